"""Generated files for the readers, and what must hold whatever comes out.

Files are built by a seeded generator (one draw each, so that 2,000 of them are quick): mostly well
formed, so that the far side of every gate is reached, with one odd piece in about half of them.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
from hypothesis import event
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.sweeps.sweep import Sweep

ENCODINGS = ("utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le")
LINE_ENDS = ("\n", "\n", "\r\n", "\r")
ODD_NUMBERS = (
    "nan", "inf", "-Inf", "1,5", "1.000,5", "0x1", "1_0", "\u0661", "1D3", "--1", "1e", "\u22121", "e5", "",
    "1" * 40, "1e308", "-1e308", "1e999", "1e-320", "-0.0", "5.", "+.5", "1 2", "!", "#", "[End]", "50+1j",
)  # fmt: skip
ODD_LINES = (
    "", "! comment", "# GHz S DB R 75", "[End]", "[Noise Data]", "1 2 3 4 5", "1 .7 .6 69 .4", "END", "x",
    "\0", "// comment", '"', ";;;", "1,2", "! Port Impedance 377 0", "[Begin Information]", "[",
    "\x0c", "\u2028",
)  # fmt: skip
PIECES = (
    b"\n", b"\r", b" ", b"\t", b",", b";", b".", b"-", b"e", b"9", b"!", b"#", b"[", b"\0", b"\xff", b"\xc3",
    b"nan", b"1e999", b"# GHz S DB R 75\n", b"[End]\n", b"\xef\xbb\xbf", b'"', b"1 2 3 4 5\n", b"", b"",
)  # fmt: skip

seeds = st.integers(0, 2**63)


def outcome(read: Callable[[], Sweep]) -> Sweep | BenchnightError:
    """What a reader gives: a sound sweep or a documented refusal. All else is raised.

    That the work is bounded is the business of `test_worst_cases`.
    """
    try:
        sweep = read()
    except BenchnightError as error:
        assert error.code.startswith("sweep.") and error.field == "sweep"
        assert error.line is None or error.line >= 1
        assert 10 < len(error.detail) < 500
        event(error.code)
        return error
    event("read")
    assert_sound(sweep)
    return sweep


def assert_sound(sweep: Sweep) -> None:
    """Every promise of the sweep type."""
    assert 1 <= sweep.ports <= 4 and 1 <= sweep.points <= 50_000
    assert np.isfinite(sweep.s).all() and np.isfinite(sweep.freq_hz).all()
    assert (sweep.freq_hz >= 0).all() and (np.diff(sweep.freq_hz) > 0).all()
    assert (np.abs(sweep.s) <= 1e6).all()
    assert (sweep.z0_ohm > 0).all()
    assert sweep.measured.any()
    assert sweep.notes and all(note.endswith(".") for note in sweep.notes)
    if sweep.magnitude_only:
        assert not sweep.s.imag.any() and (sweep.s.real >= 0).all()


def number(rng: random.Random, size: float = 1.0) -> str:
    """A plain number in one of the spellings that are legal everywhere."""
    value = rng.choice((rng.uniform(-size, size), rng.uniform(-size, size), 0.0, size))
    return rng.choice((f"{value:.6f}", f"{value:.3e}", f"{value:+.4g}", repr(value)))


def with_oddity(rng: random.Random, lines: list[list[str]]) -> list[list[str]]:
    """The same words with one of them, or one line, made odd (in about half of the files)."""
    if rng.random() < 0.3:
        row = rng.choice(lines)
        if row:
            row[rng.randrange(len(row))] = rng.choice(ODD_NUMBERS)
    if rng.random() < 0.2:
        lines.insert(rng.randrange(len(lines) + 1), [rng.choice(ODD_LINES)])
    if rng.random() < 0.1:
        lines.pop(rng.randrange(len(lines)))
    return lines


def encoded(rng: random.Random, lines: list[list[str]], separator: str) -> bytes:
    text = rng.choice(LINE_ENDS).join(separator.join(row) for row in lines)
    return text.encode(rng.choice(ENCODINGS), "replace")


def edited(rng: random.Random, data: bytes) -> bytes:
    """A file with one to four cuts, copies or foreign pieces in it."""
    for _ in range(rng.randint(1, 4)):
        at, length = rng.randrange(len(data) + 1), rng.choice((0, 0, 1, 2, 12))
        middle = data[at : at + length] * 2 if rng.random() < 0.3 else rng.choice(PIECES)
        data = data[:at] + middle + data[at + length :]
    return data
