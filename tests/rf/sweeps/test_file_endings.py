"""Wrong endings are told; bytes leave under the ending of what they are.

Endings: the Touchstone specification 2.0 (IBIS Open Forum, 2009), from memory; of tables common practice, no
source.
"""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_endings import check_ending, find_safe_ending

ONE_PORT = b"# MHz S RI R 50\n1 0.1 0.2\n2 0.1 0.2\n"
TWO_PORT = b"# MHz S RI R 50\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6 7 8\n"
TABLE = b"frequency_hz,s11_re,s11_im\n1000000,0.1,0.2\n"


@pytest.mark.parametrize(
    "name", ["a.s1p", "A.S2P", "a.ts", "a", "a.txt", "a.dat", "night.3.s2p", "no ending."]
)
def test_an_ending_of_sweeps_is_taken(name):
    check_ending(ONE_PORT, name)


@pytest.mark.parametrize("name", ["a.csv", "a.TSV", "a.txt", "a"])
def test_a_table_is_taken_under_its_endings(name):
    check_ending(TABLE, name)


@pytest.mark.parametrize(
    "name", ["a.exe", "a.pdf", "a.jpg", "a.zip", "a.html", "a.s2p.exe", "a.S2P.Svg", "a.js"]
)
def test_another_ending_is_told(name):
    with pytest.raises(BenchnightError) as refused:
        check_ending(ONE_PORT, name, role="jig_open")
    assert refused.value.code == "sweep.ending" and refused.value.errors[0].field == "jig_open"
    assert f"ends in .{name.rpartition('.')[2].lower()}" in refused.value.detail


def test_touchstone_named_as_a_table_is_told():
    with pytest.raises(BenchnightError, match=r"is Touchstone\. Name it \.s1p"):
        check_ending(ONE_PORT, "a.csv")


@pytest.mark.parametrize(
    ("data", "name", "ending"),
    [
        (ONE_PORT, "a.S1P", "s1p"),
        (ONE_PORT, "a.exe", "s1p"),
        (TWO_PORT, "a", "s2p"),
        (TABLE, "a.html", "csv"),
        (b"[Version] 2.0\n", "a.ts", "ts"),
        (b"# Hz S RI R 50\nbroken\n", "a.js", "txt"),
    ],
)
def test_bytes_leave_under_what_they_are(data, name, ending):
    assert find_safe_ending(data, name) == ending
