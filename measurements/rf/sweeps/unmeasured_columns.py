"""Which columns of a file are no measurement.

An analyser that drives one port only still writes four columns into a two-port file: the other two
are zeros, or copies of the first two. Common practice of hobby analysers, no source. Rules:

- a column that is zero at every point was not measured (two ports and more);
- S12 and S22 belong to one drive: if S12 is zero or a bit-for-bit copy of S21, and S22 is zero or a
  copy of S11, port 2 was never driven (a device cannot be assumed symmetric);
- both exactly 1 everywhere is what zeros look like in a file of decibels, and no passive device.

Noiseless simulated data of a reciprocal device have S12 == S21, but S22 is another column than S11:
that is taken as measured.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.sweeps.file_limits import build_refusal
from measurements.rf.sweeps.sweep import Bools, Complexes


def find_measured_columns(s: Complexes) -> tuple[Bools, tuple[str, ...]]:
    """Return (measured (P, P) bool, notes) for s (F, P, P).

    Raises BenchnightError `sweep.nothing_measured` where a file of two or more ports is all zeros.
    """
    ports = s.shape[1]
    zero: Bools = np.logical_not(s.any(axis=0))
    if ports == 1:
        if zero[0, 0]:
            note = "S11 is exactly zero at every point: a calculated load, or nothing was swept."
            return np.array([[True]]), (note,)
        return np.array([[True]]), ()
    if zero.all():
        raise build_refusal(
            "nothing_measured", "Every value in the file is zero: nothing was measured. Sweep again and save."
        )
    measured: Bools = np.logical_not(zero)
    notes = [_zeros(zero)] if zero.any() else []
    if ports == 2:
        sentence = _undriven(s, zero)
        if sentence:
            measured[:, 1] = False
            driven = zero & np.array([True, False])
            notes = [sentence, *([_zeros(driven)] if driven.any() else [])]
    return measured, tuple(notes)


def _undriven(s: Complexes, zero: Bools) -> str:
    """Return a sentence if port 2 was never driven, else ""."""
    if zero[0, 1] and zero[1, 1]:
        return f"S12 and S22 are zero at every point: not measured, and not used. {_CURE}"
    if not s[:, 0, 1].imag.any() and np.all(s[:, :, 1] == 1):
        return f"S12 and S22 are exactly 1 (0 dB) at every point: not measured, and not used. {_CURE}"
    copy_12 = np.array_equal(s[:, 0, 1], s[:, 1, 0])
    copy_22 = np.array_equal(s[:, 1, 1], s[:, 0, 0])
    if (zero[0, 1] or copy_12) and (zero[1, 1] or copy_22):
        return (
            "S12 and S22 only repeat S21 and S11, bit for bit, or are zero: "
            f"taken as not measured, and not used. {_CURE}"
        )
    return ""


_CURE = "For a full two-port, sweep once more with the device turned round."


def _zeros(zero: Bools) -> str:
    names = ", ".join(f"S{i + 1}{j + 1}" for i, j in zip(*np.nonzero(zero), strict=True))
    return f"Zero at every point, so not measured and not used: {names}."
