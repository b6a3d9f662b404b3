"""What is legal, or harmless, is read: line ends, marks, cases, option lines, information blocks."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.sweeps.reading import read_sweep
from tests.rf.sweeps import touchstone_examples

ROW = ".1 .2 .3 .4 .5 .6 .7 .8"
PLAIN = f"! bench\n# MHz S RI R 50\n1 {ROW}\n2 {ROW}\n"
EXPECTED = np.array([[0.1 + 0.2j, 0.5 + 0.6j], [0.3 + 0.4j, 0.7 + 0.8j]])

SPELLINGS = {
    "line feeds": PLAIN.encode(),
    "carriage returns": PLAIN.replace("\n", "\r").encode(),
    "both": PLAIN.replace("\n", "\r\n").encode(),
    "no end of the last line": PLAIN.rstrip().encode(),
    "utf-8 mark": b"\xef\xbb\xbf" + PLAIN.encode(),
    "utf-16 with mark": PLAIN.encode("utf-16"),
    "utf-16 without mark": PLAIN.encode("utf-16-le"),
    "utf-16 big-endian": PLAIN.encode("utf-16-be"),
    "latin-1 comment": PLAIN.replace("bench", "caf\u00e9 50 \u03a9").encode("latin-1", "replace"),
    "utf-8 comment": PLAIN.replace("bench", "50 \u03a9 \u2028 caf\u00e9").encode(),
    "tabs": PLAIN.replace(" ", "\t").encode(),
    "indented": PLAIN.replace("\n", "\n   ").encode(),
    "blank lines": PLAIN.replace("\n", "\n\n \t\n").encode(),
    "comment after data": PLAIN.replace(".8\n", ".8 ! point\n").encode(),
    "comment between": PLAIN.replace("2 .1", "! half way \u00b5\n2 .1").encode("latin-1"),
    "comment on the option line": PLAIN.replace("R 50", "R 50 ! ohm").encode(),
    "later option line": PLAIN.replace("2 .1", "# GHz S MA R 75\n2 .1").encode(),
    "lower case": PLAIN.lower().encode(),
    "upper case": PLAIN.upper().encode(),
    "words in another order": PLAIN.replace("# MHz S RI R 50", "# R 50 RI MHz S").encode(),
    "no space after the mark": PLAIN.replace("# MHz", "#MHz").encode(),
    "reference by default": PLAIN.replace(" R 50", "").encode(),
    "one reference for each port": PLAIN.replace("R 50", "R 50 50").encode(),
    "version keyword 1.0": ("[Version] 1.0\n" + PLAIN).encode(),
    "port impedance comment that agrees": PLAIN.replace(
        "2 .1", "! Port Impedance 50.0 0.0 50.0 0.0\n2 .1"
    ).encode(),
    "gamma comment": PLAIN.replace("2 .1", "! Gamma 1 2 3 4\n2 .1").encode(),
    "exponents": PLAIN.replace("1 .1", "1.0E+00 +1.e-1").encode(),
    "noise from the last frequency on": (PLAIN + "2 .7 .6 69 .4\n3 .7 .6 69 .4 ! dB\n").encode(),
}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_spellings_of_one_file(spelling: str) -> None:
    sweep = read_sweep(SPELLINGS[spelling], "bench.S2P")
    assert sweep.freq_hz.tolist() == [1e6, 2e6]
    np.testing.assert_array_equal(sweep.s, [EXPECTED, EXPECTED])
    assert sweep.z0_ohm.tolist() == [50, 50]
    assert sweep.measured.all() and not sweep.magnitude_only


def test_a_bare_mark_means_the_defaults() -> None:
    sweep = read_sweep(b"#\n1 0.5 90\n", "a.s1p")
    assert sweep.freq_hz.tolist() == [1e9]
    assert sweep.s[0, 0, 0] == pytest.approx(0.5j, abs=1e-15)
    assert sweep.z0_ohm.tolist() == [50]


def test_only_a_reference() -> None:
    assert read_sweep(b"# R 75\n1 0.5 90\n", "a.s1p").z0_ohm.tolist() == [75]


def test_a_point_at_0_hz_and_a_single_point() -> None:
    assert read_sweep(b"# Hz S RI R 50\n0 .5 0\n10 .5 0\n", "a.s1p").points == 2
    assert read_sweep(b"# Hz S RI R 50\n10 .5 0\n", "a.s1p").points == 1


HEAD = "[number of ports] 2\n[TWO-PORT DATA ORDER] 12_21\n[Number  of  Frequencies] 2 ! points\n"


def version_2(extra: str = "", body: str = f"1 {ROW}\n2 {ROW}\n[END]\n", version: str = "2.0") -> np.ndarray:
    return read_sweep(
        touchstone_examples.version_2(HEAD + extra, body, "# mhz S ri", version).encode(), "a.ts"
    ).s[1]


@pytest.mark.parametrize("version", ["2.0", "2.1"])
def test_version_2_in_mixed_case(version: str) -> None:
    np.testing.assert_array_equal(version_2(version=version), EXPECTED.T)


def test_information_blocks_are_skipped() -> None:
    block = "[Begin Information]\n[Manufacturer] nobody\n1 2 3 not data\n[End Information]\n"
    np.testing.assert_array_equal(version_2(block), EXPECTED.T)


def test_a_point_may_run_over_lines_in_version_2() -> None:
    body = "1 .1 .2 .3 .4\n .5 .6 .7 .8 ! rest\n2 .1 .2\n.3 .4\n.5 .6 .7 .8\n[End]\n"
    np.testing.assert_array_equal(version_2(body=body), EXPECTED.T)


def test_references_may_run_over_lines() -> None:
    text = touchstone_examples.version_2(
        HEAD + "[Reference] 50\n! second port\n 75\n", f"1 {ROW}\n2 {ROW}\n", "# MHz S RI"
    )
    assert read_sweep(text.encode(), "a.ts").z0_ohm.tolist() == [50, 75]


@pytest.mark.parametrize(
    ("rows", "ports"),
    [
        ("1 .1 .2\n2 .1 .2\n", 1),
        (f"1 {ROW}\n2 {ROW}\n", 2),
        (f"1 {ROW}\n", 2),
        ("1 .1 .2 .3 .4 .5 .6\n.1 .2 .3 .4 .5 .6\n.1 .2 .3 .4 .5 .6\n", 3),
        (f"1 {ROW}\n{ROW}\n{ROW}\n{ROW}\n", 4),
        ("1 " + ".1 " * 18 + "\n", 3),
        ("1 " + ".1 " * 32 + "\n", 4),
    ],
)
def test_ports_counted_from_the_rows_where_the_name_does_not_tell(rows: str, ports: int) -> None:
    for name in ("sweep.ts", "sweep.txt", "sweep.csv", "sweep", "C:\\bench\\sweep.dat"):
        sweep = read_sweep(f"! saved\n# MHz S RI R 50\n{rows}".encode(), name)
        assert sweep.ports == ports
        assert any("counted from the rows" in note for note in sweep.notes)


def test_the_note_says_how_the_file_was_understood() -> None:
    sweep = read_sweep(PLAIN.encode(), "a.s2p")
    assert sweep.notes == (
        "Touchstone 1.0, 2 ports, S as real and imaginary, frequency in MHz, reference 50 ohm.",
    )
    assert sweep.source == "touchstone"


def test_nothing_of_the_comments_is_kept() -> None:
    text = PLAIN.replace("bench", "Canary Person, 12 Canary Lane")
    assert "Canary" not in repr(read_sweep(text.encode(), "canary.s2p"))


def test_arrays_are_read_only() -> None:
    sweep = read_sweep(PLAIN.encode(), "a.s2p")
    for array in (sweep.freq_hz, sweep.s, sweep.z0_ohm, sweep.measured):
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0
