"""The largest files that pass the size limit cost bounded work and memory, whatever is in them.

Work is counted in calls of the interpreter, which is the same on every machine however busy; a reader
whose work grew with the square of the file would be thousands of times over the bound.
"""

from __future__ import annotations

import sys
import tracemalloc
from collections.abc import Callable

import pytest

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_limits import MAX_BYTES
from measurements.rf.sweeps.reading import read_sweep

MOST_CALLS_A_BYTE = 4  # the most that any case makes is 2
MOST_BYTES = 400 * 1024 * 1024
OPTION = b"# MHz S RI R 50\n"


def filled(piece: bytes, head: bytes = b"") -> bytes:
    """As much of `piece` as fits the limit."""
    return head + piece * ((MAX_BYTES - len(head)) // len(piece))


FULL_LINE = b"1 " * 2_047 + b"\n"
WORST = {
    "one line": ("a.s2p", filled(b"1 ", OPTION)),
    "line ends": ("a.s2p", filled(b"\n", OPTION)),
    "full lines": ("a.s2p", filled(FULL_LINE, OPTION)),
    "full comments": ("a.s2p", filled(b"!" + b"x" * 4_000 + b"\n", OPTION)),
    "solver comments": ("a.s2p", filled(b"! Port Impedance " + b"5 " * 2_000 + b"\n", OPTION)),
    "bad last row": ("a.s2p", filled(b"1 2 3 4 5 6 7 8 9\n", OPTION) + b"x"),
    "keywords": ("a.ts", filled(b"[Begin Information]\n", b"[Version] 2.0\n")),
    "versions": ("a.ts", filled(b"[Version] 1.0            \n")),
    "ends": ("a.ts", filled(b"[End] " + b" " * 30 + b"\n", b"[Version] 2.0\n#\n[Number of Ports] 1\n")),
    "points": ("a.s4p", filled(b"1 " + b"1 " * 32 + b"\n", OPTION)),
    "unnamed": ("a.txt", filled(b"! " + b"r 1 " * 1_000 + b"\n") + b"# r " + b"1 " * 2_000 + b"x\n"),
    "csv one line": ("a.csv", filled(b"1,")),
    "csv full lines": ("a.csv", filled(b"1," * 2_047 + b"\n")),
    "csv quotes": ("a.csv", filled(b'"1","2"' + b',""' * 1_300 + b"\n")),
    "csv 60 columns": ("a.csv", filled(b"1" + b",1.5;2" * 59 + b"\n")),
    "csv prose": ("a.csv", filled(b"lorem ipsum; dolor, sit\n")),
    "csv comments": ("a.csv", filled(b"# freq " + b"x" * 50 + b"\n") + b"1,2\n"),
    "csv rows": (
        "a.csv",
        b"freq Hz"
        + b",S11 re" * 1
        + b",S11 im"
        + b",x" * 27
        + b"\n"
        + b"".join(b"%d" % (10_000 + k) + b",1.5" * 29 + b"\n" for k in range(49_999)),
    ),
}


@pytest.mark.parametrize("case", WORST)
def test_memory(case: str) -> None:
    name, data = WORST[case]
    tracemalloc.start()
    try:
        attempt(data, name)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < MOST_BYTES


@pytest.mark.parametrize("case", WORST)
def test_work(case: str) -> None:
    name, data = WORST[case]
    assert 0 < calls(lambda: attempt(data, name)) < MOST_CALLS_A_BYTE * MAX_BYTES


def attempt(data: bytes, name: str) -> None:
    """Reads the file: a whole sweep or a documented refusal."""
    try:
        assert read_sweep(data[:MAX_BYTES], name).points == 49_999
    except BenchnightError as error:
        assert error.code.startswith("sweep.")


def calls(work: Callable[[], None]) -> int:
    """How many calls, of Python and of C, the work makes."""
    made = 0

    def count(_frame: object, event: str, _argument: object) -> None:
        nonlocal made
        made += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(before)
    return made


def test_the_largest_sweep_of_four_ports_is_read() -> None:
    row = b" 1 0 0 0 0 0 0 0\n"
    data = OPTION + b"".join(b"%d" % k + row + row * 3 for k in range(1, 50_001))
    assert len(data) < MAX_BYTES
    assert read_sweep(data, "a.s4p").points == 50_000
