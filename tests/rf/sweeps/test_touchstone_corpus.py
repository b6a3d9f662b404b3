"""The corpus: files of the scikit-rf wheel and generated ones, read as an independent parser reads them.

scikit-rf reads the numbers behind the gate, so it is no yardstick here; `independent_parser` is one.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import skrf

from measurements.errors import BenchnightError
from measurements.rf.sweeps.reading import read_sweep
from measurements.rf.sweeps.touchstone_rows import Rows, check_plain_rows, check_rows_by_line
from tests.rf.sweeps import independent_parser, touchstone_examples

WHEEL = Path(skrf.__file__).parent
FILES = sorted(
    path for path in WHEEL.rglob("*") if path.suffix.lower() in (".s1p", ".s2p", ".s3p", ".s4p", ".ts")
)
# name of a file the wheel carries -> the code it must be refused with, and why
EXPECTED_REFUSALS: dict[str, tuple[str, str]] = {}


def network(text: str, name: str) -> skrf.Network:
    stream = io.StringIO(text)
    stream.name = name
    return skrf.Network(stream)


def test_the_wheel_carries_touchstone_files() -> None:
    assert len(FILES) >= 15


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_file_of_the_wheel_reads_to_the_same_numbers(path: Path) -> None:
    data = path.read_bytes()
    if path.name in EXPECTED_REFUSALS:
        with pytest.raises(BenchnightError) as caught:
            read_sweep(data, path.name)
        assert caught.value.code == EXPECTED_REFUSALS[path.name][0]
        return
    sweep = read_sweep(data, path.name)
    assert_read_as(sweep, independent_parser.parse(data.decode("latin-1"), sweep.ports))


def assert_read_as(sweep, parsed: independent_parser.Parsed) -> None:
    np.testing.assert_allclose(sweep.freq_hz, parsed.freq_hz, rtol=1e-12)
    np.testing.assert_allclose(sweep.s, parsed.s, rtol=0, atol=1e-12)
    np.testing.assert_allclose(sweep.z0_ohm, parsed.z0_ohm, rtol=1e-12)


def generated(ports: int, unit: str, form: str, per_port: bool, points: int = 7) -> str:
    """A version 1 file of seeded random S-parameters in any unit and format."""
    rng = np.random.default_rng(ports * 100 + len(unit))
    values = rng.uniform(-0.7, 0.7, (points, ports**2, 2))
    if form == "DB":
        values[..., 0] *= 60
    if form == "MA":
        values[..., 0] = np.abs(values[..., 0])  # a negative magnitude is refused
    if form != "RI":
        values[..., 1] *= 250
    references = " ".join(f"{50 + 25 * k * per_port}" for k in range(ports if per_port else 1))
    lines = [f"# {unit} S {form} R {references}"]
    for k in range(points):
        words = [f"{v:.9g}" for v in values[k].ravel()]
        per_line = 2 * ports if ports > 2 else 2 * ports**2
        chunks = [" ".join(words[at : at + per_line]) for at in range(0, len(words), per_line)]
        lines += [f"{1.5 + k} {chunks[0]}", *chunks[1:]]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("ports", [1, 2, 3, 4])
@pytest.mark.parametrize("unit", ["Hz", "kHz", "MHz", "GHz"])
@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
@pytest.mark.parametrize("per_port", [False, True])
def test_any_unit_format_and_port_count(ports: int, unit: str, form: str, per_port: bool) -> None:
    text = generated(ports, unit, form, per_port)
    assert_read_as(read_sweep(text.encode(), f"a.S{ports}P"), independent_parser.parse(text, ports))


@pytest.mark.parametrize("parameter", ["Z", "Y", "G", "H"])
def test_matrices_of_version_2_convert_to_the_same_s(parameter: str) -> None:
    rng = np.random.default_rng(5)
    values = rng.uniform(1, 9, (4, 8))
    values *= 0.01 if parameter == "Y" else 1
    body = "".join(f"{k + 1} " + " ".join(f"{v:.12g}" for v in row) + "\n" for k, row in enumerate(values))
    head = "[Number of Ports] 2\n[Two-Port Data Order] 12_21\n[Number of Frequencies] 4\n[Reference] 50 75\n"
    text = touchstone_examples.version_2(head, body + "[End]\n", f"# MHz {parameter} RI R 50")
    np.testing.assert_allclose(
        read_sweep(text.encode(), "a.ts").s, network(text, "a.ts").s, rtol=0, atol=1e-12
    )


def test_z_of_version_1_is_normalised_as_scikit_rf_has_it() -> None:
    text = "# MHz Z RI R 50\n1 1.5 .2 .3 .1 .3 .1 2 .4\n2 1.7 .2 .3 .1 .3 .1 2 .7\n"
    np.testing.assert_allclose(
        read_sweep(text.encode(), "a.s2p").s, network(text, "a.s2p").s, rtol=0, atol=1e-12
    )


@pytest.mark.parametrize("matrix", ["Lower", "upper"])
@pytest.mark.parametrize("ports", [1, 2, 3, 4])
def test_triangular_matrices(matrix: str, ports: int) -> None:
    rng = np.random.default_rng(ports)
    rows = [
        f"{k + 1} " + " ".join(f"{v:.6g}" for v in rng.uniform(-0.5, 0.5, ports * (ports + 1)))
        for k in range(3)
    ]
    order = "[Two-Port Data Order] 12_21\n" if ports == 2 else ""
    head = f"[Number of Ports] {ports}\n{order}[Number of Frequencies] 3\n[Matrix Format] {matrix}\n"
    text = touchstone_examples.version_2(head, "\n".join(rows) + "\n[End]\n", "# MHz S RI")
    sweep = read_sweep(text.encode(), "a.ts")
    assert_read_as(sweep, independent_parser.parse(text, ports))
    np.testing.assert_array_equal(sweep.s, sweep.s.transpose(0, 2, 1))


@pytest.mark.parametrize("ports", [1, 2])
def test_the_glance_and_the_walk_pass_the_same_rows(ports: int) -> None:
    rows = Rows(generated(ports, "MHz", "RI", False, points=50).splitlines()[1:], 2)
    width = 1 + 2 * ports**2
    fast, slow = (
        check_plain_rows(rows, width),
        check_rows_by_line(rows, width, one_line=True, noise=ports == 2),
    )
    assert fast is not None
    assert fast.text.split() == slow.text.split()
    assert fast.points == slow.points == 50
    assert [fast.line_of(k) for k in range(50)] == [slow.line_of(k) for k in range(50)] == list(range(2, 52))
