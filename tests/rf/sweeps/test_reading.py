"""The one door: which reader takes a file, by its name and by what is in it."""

from __future__ import annotations

import pytest

from measurements.rf.sweeps.reading import is_touchstone, read_sweep
from tests.rf.sweeps.refusals import refused

TOUCHSTONE = b"! saved\n# MHz S RI R 50\n1 .1 .2\n2 .1 .3\n"
CSV = b"freq MHz,S11 re,S11 im\n1,.1,.2\n2,.1,.3\n"


@pytest.mark.parametrize(
    "name", ["a.s1p", "A.S1P", "a.csv", "a.txt", "a", "", "../../a.s1p", "a.s1p\x00.csv"]
)
def test_touchstone_by_name_or_content(name: str) -> None:
    assert read_sweep(TOUCHSTONE, name).source == "touchstone"


@pytest.mark.parametrize("name", ["a.csv", "a.txt", "a", "a.s1p.csv", "a.tsv"])
def test_csv_by_content(name: str) -> None:
    sweep = read_sweep(CSV, name)
    assert sweep.source == "csv"
    assert sweep.s[:, 0, 0].tolist() == [0.1 + 0.2j, 0.1 + 0.3j]


def test_a_table_named_as_touchstone_is_asked_for_its_option_line() -> None:
    refused(CSV, "a.s1p", "missing_option_line", 1)


@pytest.mark.parametrize(
    ("first", "touchstone"),
    [
        ("# MHz S RI R 50", True),
        ("#hz s ma r 50 75 ! x", False),  # no space: more likely a comment of a CSV file
        ("# R 50", True),
        ("[Version] 2.0", True),
        ("#", False),
        ("# Frequency (MHz), S21", False),
        ("# Hz of mine", False),
        ("# MHz S RI R 50 extra", False),
    ],
)
def test_first_lines(first: str, touchstone: bool) -> None:
    assert is_touchstone(f"! x\n\n{first}\n1 2 3\n".encode(), "a.txt") is touchstone


def test_a_version_2_file_by_content() -> None:
    head = b"[Version] 2.0\n# MHz S RI\n[Number of Ports] 1\n[Number of Frequencies] 1\n"
    assert read_sweep(head + b"[Network Data]\n1 .1 .2\n", "a.txt").ports == 1
