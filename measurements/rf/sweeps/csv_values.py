"""Columns of numbers -> complex S-parameters (or sizes without phase)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from measurements.rf.sweeps.csv_columns import Column
from measurements.rf.sweeps.file_limits import MAX_MAGNITUDE, build_refusal
from measurements.rf.sweeps.sweep import Complexes, Floats

_SIZES = ("magnitude", "decibel", "loss", "return_loss", "swr")


@dataclass(frozen=True)
class Parameters:
    """complexes: name ("s21") -> (F,) complex; magnitude_only: they are sizes without phase."""

    complexes: dict[str, Complexes]
    magnitude_only: bool
    notes: tuple[str, ...]


def compute_parameters(
    columns: list[Column], table: Floats, z0_ohm: float, line_of: Callable[[int], int]
) -> Parameters:
    """Return the S-parameters in a table.

    columns: of `table` (F, columns), the frequency among them; z0_ohm: the reference for R + jX;
    line_of: row -> line. Raises BenchnightError: sweep.csv_partner, sweep.csv_sign, sweep.swr_range.
    """
    whole: dict[str, Complexes] = {}
    sizes: dict[str, Complexes] = {}
    notes: list[str] = []
    for name in dict.fromkeys(column.parameter for column in columns if column.parameter):
        kinds = {
            column.kind: (column, table[:, index])
            for index, column in enumerate(columns)
            if column.parameter == name
        }
        # what overflows (1e9 dB) or has no finite S11 (Z = -Z0) is refused by the caller, with its line
        with np.errstate(all="ignore"):
            values, has_phase, used = _compute_parameter(name, kinds, z0_ohm, line_of)
        (whole if has_phase else sizes)[name] = values
        spare = sorted(set(kinds) - used)
        if spare:
            kept = " and ".join(sorted(used)).replace("_", " ")
            notes.append(
                f"{name.upper()} is taken from {kept}; not used: {', '.join(spare).replace('_', ' ')}."
            )
    if whole and sizes:
        named = ", ".join(name.upper() for name in sizes)
        notes.append(f"Not used, for want of a phase: {named}.")
    elif sizes:
        notes.append("The file has no phase: sizes only, so no impedance can be computed from it.")
    return Parameters(whole or sizes, not whole, tuple(notes))


Kinds = dict[str, tuple[Column, Floats]]


def _compute_parameter(
    name: str, kinds: Kinds, z0_ohm: float, line_of: Callable[[int], int]
) -> tuple[Complexes, bool, set[str]]:
    """Return (values, whether they have a phase, kinds used) of one S-parameter."""
    if {"real", "imaginary"} <= kinds.keys():
        return _complex(kinds["real"][1], kinds["imaginary"][1]), True, {"real", "imaginary"}
    size = next((kind for kind in _SIZES if kind in kinds), None)
    if size and "phase" in kinds:
        magnitude = _magnitude(size, kinds[size][1], line_of)
        return magnitude * np.exp(1j * _radians(kinds["phase"])), True, {size, "phase"}
    z_ohm = _impedance(kinds)
    if z_ohm is not None:
        used = {"resistance", "reactance"} & kinds.keys() or {"impedance", "impedance_phase"}
        return (z_ohm - z0_ohm) / (z_ohm + z0_ohm), True, used
    if size:
        return _magnitude(size, kinds[size][1], line_of).astype(np.complex128), False, {size}
    raise build_refusal(
        "csv_partner",
        f"{name.upper()} has only its {' and '.join(sorted(kinds)).replace('_', ' ')}: the other half is "
        "missing. Export real and imaginary part, or size and phase, or R and X.",
        line_of(0),
    )


def _impedance(kinds: Kinds) -> Complexes | None:
    if {"resistance", "reactance"} <= kinds.keys():
        return _complex(kinds["resistance"][1], kinds["reactance"][1])
    if {"impedance", "impedance_phase"} <= kinds.keys():
        polar: Complexes = kinds["impedance"][1] * np.exp(1j * _radians(kinds["impedance_phase"]))
        return polar
    return None


def _complex(real: Floats, imaginary: Floats) -> Complexes:
    values = np.empty(real.shape, dtype=np.complex128)
    values.real, values.imag = real, imaginary
    return values


def _radians(entry: tuple[Column, Floats]) -> Floats:
    column, values = entry
    return np.deg2rad(values) if column.unit == "deg" else values


def _magnitude(kind: str, values: Floats, line_of: Callable[[int], int]) -> Floats:
    """Return linear size of an S-parameter; an absurd one comes out infinite and is refused by the caller."""
    if kind == "magnitude":
        return _not_negative(values, line_of)
    if kind == "swr":
        return _from_swr(values, line_of)
    if kind in ("loss", "return_loss"):
        values = -_one_sign(values, line_of)
    linear: Floats = 10 ** (values / 20)
    return linear


def _not_negative(values: Floats, line_of: Callable[[int], int]) -> Floats:
    if values.min() < 0:
        line = line_of(int(np.argmin(values)))
        raise build_refusal(
            "csv_sign", f"The linear magnitude in line {line} is negative. Is it in decibels?", line
        )
    return values


def _from_swr(values: Floats, line_of: Callable[[int], int]) -> Floats:
    """Return |S11| = (SWR - 1)/(SWR + 1)."""
    sound = (values >= 1) & (values <= MAX_MAGNITUDE)
    if not sound.all():
        line = line_of(int(np.argmin(sound)))
        raise build_refusal("swr_range", f"The SWR in line {line} is below 1 or not a finite number.", line)
    size: Floats = (values - 1) / (values + 1)
    return size


def _one_sign(values: Floats, line_of: Callable[[int], int]) -> Floats:
    """Return a loss as positive decibels, whichever way the file has the sign, as long as it has one.

    A loss may dip to -1 dB by error of calibration where everything else is positive.
    """
    if values.min() >= -1:
        return values
    if values.max() <= 1:
        return -values
    line = line_of(int(np.argmin(values)))
    raise build_refusal(
        "csv_sign", f"The loss column has both signs (line {line}): decibels of S, or of loss? Name it.", line
    )
