"""2,000 generated and 2,000 mutated CSV files, and posted guesses: sound sweeps or documented refusals."""

from __future__ import annotations

import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.sweeps.csv_reading import guess_csv, parse_guess, read_csv
from measurements.rf.sweeps.reading import read_sweep
from tests.fuzzing import try_cases
from tests.rf.sweeps.fuzzing import edited, encoded, number, outcome, seeds, with_oddity
from tests.rf.sweeps.test_csv import DIALECTS

FREQUENCIES = ("freq MHz", "Frequency (kHz)", "MHz", "f/Hz", "freq", "GHz", "")
VALUES = (
    ("S21 dB", "S21 deg"), ("S11 re", "S11 im"), ("SWR",), ("return loss dB",), ("R", "X"), ("|Z|", "theta"),
    ("|S21|", "phase"), ("S21 loss dB",), ("S31 dB", "angle"), ("S22",), ("temp",), ("dB",), ('"a, b"',),
    ("ReS11", "ImS11", "ReS21", "ImS21", "ReS12", "ImS12", "ReS22", "ImS22"), ("S44 re", "S44 im"), ("",),
)  # fmt: skip


def cell(rng: random.Random, name: str) -> str:
    """A value that suits the name more often than not."""
    if "SWR" in name:
        return f"{rng.uniform(1, 9):.3f}"
    return number(rng, 90.0 if any(word in name for word in ("dB", "deg", "R", "X", "Z")) else 0.9)


def generated_file(seed: int) -> bytes:
    rng = random.Random(seed)
    separator = rng.choice((",", ";", "\t", " ", ", ", " ; "))
    names = [name for part in rng.sample(VALUES, rng.randint(1, 2)) for name in part]
    lines = [[rng.choice(("# sweep", "! x", "Model", "Points,3"))] for _ in range(rng.choice((0, 0, 1, 2)))]
    if rng.random() < 0.9:
        lines.append([rng.choice(FREQUENCIES), *names])
    lines += [[f"{k}", *(cell(rng, name) for name in names)] for k in range(10, 10 + rng.randint(0, 4))]
    lines += rng.choice(([], [], [["END"]], [["# end"]]))
    lines = with_oddity(rng, lines or [["1", "2"]])
    if rng.random() < 0.3:
        lines = [[word.replace(".", ",") for word in row] for row in lines]
    if rng.random() < 0.1:
        lines = [[f'"{word}"' for word in row] for row in lines]
    return encoded(rng, lines, separator)


def mutated_file(seed: int) -> bytes:
    rng = random.Random(seed)
    return edited(rng, rng.choice(list(DIALECTS.values())).encode())


@pytest.mark.fuzz
@try_cases(2_000)
@given(seeds.map(generated_file))
def test_generated_files(data: bytes) -> None:
    outcome(lambda: read_sweep(data, "a.csv"))


@pytest.mark.fuzz
@try_cases(2_000)
@given(seeds.map(mutated_file))
def test_mutated_files(data: bytes) -> None:
    outcome(lambda: read_sweep(data, "a.csv"))


@pytest.mark.fuzz
@try_cases(500)
@given(st.text(alphabet='0123456789.,;\t "\n-eE#!/aSf12MHz', max_size=120))
def test_any_text(text: str) -> None:
    outcome(lambda: read_sweep(text.encode(), "a.csv"))


@pytest.mark.fuzz
@try_cases(500)
@given(st.one_of(seeds.map(generated_file), seeds.map(mutated_file)))
def test_a_guess_posted_back_unchanged_gives_the_same(data: bytes) -> None:
    try:
        first = guess_csv(data)
    except BenchnightError:
        return
    again = parse_guess(json.loads(json.dumps(first.as_dict())))
    assert again.columns == first.columns
    if first.questions:
        outcome(lambda: read_csv(data, again))
        return
    one, other = outcome(lambda: read_csv(data)), outcome(lambda: read_csv(data, again))
    assert type(one) is type(other)
    if isinstance(one, BenchnightError):
        assert (one.code, one.line) == (other.code, other.line)
    else:
        assert (one.s == other.s).all() and one.notes == other.notes


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)
PARTS = {
    "separator": st.one_of(st.sampled_from([",", ";", " "]), json_values),
    "decimal": st.one_of(st.sampled_from([".", ","]), json_values),
    "first_line": st.one_of(st.integers(0, 5), json_values),
    "columns": st.one_of(st.lists(json_values, max_size=4), json_values),
    "z0_ohm": json_values,
}


@pytest.mark.fuzz
@try_cases(500)
@given(st.fixed_dictionaries({}, optional=PARTS))
def test_any_posted_guess(posted: dict[str, object]) -> None:
    try:
        parse_guess(posted)
    except BenchnightError as error:
        assert error.code in ("sweep.csv_guess", "sweep.reference")
