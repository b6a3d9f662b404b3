"""2,000 generated and 2,000 mutated Touchstone files: a sound sweep or a documented refusal, nothing else."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.rf.sweeps.reading import read_sweep
from tests.fuzzing import try_cases
from tests.rf.sweeps import touchstone_examples
from tests.rf.sweeps.fuzzing import edited, encoded, number, outcome, seeds, with_oddity
from tests.rf.sweeps.test_touchstone_corpus import FILES, generated

UNITS = ("Hz", "kHz", "MHz", "GHz", "hz", "THz")
NAMES = ("a.s1p", "a.s2p", "a.s3p", "a.s4p", "a.ts", "a.s5p", "a.txt")


def option_line(rng: random.Random, ports: int) -> list[str]:
    words = [rng.choice(UNITS), rng.choice("SSSSSZYGH"), rng.choice(("RI", "RI", "MA", "DB"))]
    references = [rng.choice(("50", "75", "1", "0.01", "0")) for _ in range(rng.choice((0, 1, 1, ports)))]
    rng.shuffle(words)
    return ["#", *words[: rng.choice((3, 3, 3, 2, 0))], *(["R", *references] if references else [])]


def body(rng: random.Random, ports: int, pairs: int, points: int) -> list[list[str]]:
    size = rng.choice((0.9, 0.9, 90.0, 1e4))
    lines = []
    for k in range(points):
        values = [number(rng, size) for _ in range(2 * pairs)]
        per_line = 2 * ports if ports > 2 and pairs == ports**2 else len(values)
        rows = [values[at : at + per_line] for at in range(0, len(values), per_line)]
        lines += [[f"{k + 1}", *rows[0]], *rows[1:]]
    if ports == 2 and rng.random() < 0.2:
        lines.append([f"{points}", ".7", ".6", "69", ".4"])
    return lines


def version_1(rng: random.Random, ports: int) -> list[list[str]]:
    return [["! bench"], option_line(rng, ports), *body(rng, ports, ports**2, rng.randint(1, 4))]


def version_2(rng: random.Random, ports: int) -> list[list[str]]:
    matrix = rng.choice(("", "Full", "Lower", "upper"))
    pairs = ports**2 if matrix in ("", "Full") else ports * (ports + 1) // 2
    points = rng.randint(1, 4)
    keywords = [["[Number of Frequencies]", str(points)]]
    if ports == 2:
        keywords.append(["[Two-Port Data Order]", rng.choice(("12_21", "21_12"))])
    if matrix:
        keywords.append(["[Matrix Format]", matrix])
    if rng.random() < 0.5:
        keywords.append(["[Reference]", *(rng.choice(("50", "75")) for _ in range(ports))])
    if rng.random() < 0.1:
        keywords.append(["[Mixed-Mode Order]", "D1,2", "C1,2"])
    rng.shuffle(keywords)
    head = [
        ["[Version]", rng.choice(("2.0", "2.1"))],
        option_line(rng, ports),
        ["[Number of Ports]", str(ports)],
    ]
    return [*head, *keywords, ["[Network Data]"], *body(rng, ports, pairs, points), ["[End]"]]


def generated_file(seed: int) -> tuple[bytes, str]:
    rng = random.Random(seed)
    ports = rng.randint(1, 4)
    lines = rng.choice((version_1, version_2))(rng, ports)
    name = rng.choice(NAMES) if rng.random() < 0.15 else f"a.s{ports}p"
    return encoded(rng, with_oddity(rng, lines), rng.choice((" ", "\t", "   "))), name


@pytest.mark.fuzz
@try_cases(2_000)
@given(seeds.map(generated_file))
def test_generated_files(file: tuple[bytes, str]) -> None:
    outcome(lambda: read_sweep(*file))


REAL = [(path.read_bytes()[:3_000].rpartition(b"\n")[0], path.name) for path in FILES]
REAL += [
    (touchstone_examples.WITH_NOISE.encode(), "a.s2p"),
    (touchstone_examples.WITH_NOISE_2.encode(), "a.ts"),
]
REAL += [
    (generated(ports, "MHz", form, False).encode(), f"a.s{ports}p")
    for ports in (1, 2, 3)
    for form in ("RI", "DB")
]


def mutated_file(seed: int) -> tuple[bytes, str]:
    rng = random.Random(seed)
    data, name = rng.choice(REAL)
    return edited(rng, data), name


@pytest.mark.fuzz
@try_cases(2_000)
@given(seeds.map(mutated_file))
def test_mutated_files(file: tuple[bytes, str]) -> None:
    outcome(lambda: read_sweep(*file))


@pytest.mark.fuzz
@try_cases(500)
@given(st.binary(max_size=200), st.sampled_from(NAMES))
def test_any_bytes(data: bytes, name: str) -> None:
    outcome(lambda: read_sweep(data, name))


@pytest.mark.fuzz
@try_cases(500)
@given(st.text(max_size=200), st.sampled_from(NAMES))
def test_any_text(text: str, name: str) -> None:
    outcome(lambda: read_sweep(("# MHz S RI R 50\n" + text).encode("utf-8", "surrogatepass"), name))
