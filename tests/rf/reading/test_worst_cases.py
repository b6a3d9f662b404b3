"""The largest files that pass the size limit cost bounded time and memory, whatever is in them."""

from __future__ import annotations

import time
import tracemalloc

import pytest

from measurements.errors import BenchnightError
from measurements.rf.bounds import MAX_BYTES
from measurements.rf.reading import read

SLOWEST_S = 20.0  # under tracemalloc on two shared cores; plain runs take about a second
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
def test_time_and_memory(case: str) -> None:
    name, data = WORST[case]
    tracemalloc.start()
    start = time.perf_counter()
    try:
        sweep = read(data[:MAX_BYTES], name)
        assert sweep.points == 49_999
    except BenchnightError as error:
        assert error.code.startswith("sweep.")
    finally:
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert time.perf_counter() - start < SLOWEST_S
    assert peak < MOST_BYTES


def test_the_largest_sweep_of_four_ports_is_read() -> None:
    row = b" 1 0 0 0 0 0 0 0\n"
    data = OPTION + b"".join(b"%d" % k + row + row * 3 for k in range(1, 50_001))
    assert len(data) < MAX_BYTES
    assert read(data, "a.s4p").points == 50_000
