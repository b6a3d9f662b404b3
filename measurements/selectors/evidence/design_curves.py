"""A design's curves over frequency, from its cell in the current release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import F
from numpy.typing import NDArray

from measurements.disclosure import evidence_view, rounding
from measurements.disclosure.viewers import Circle, Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Cell, Design, Result, group_settings
from measurements.models.read_once import read_once
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.sweeps.sweep import Bools, Floats

Statistic = dict[str, list[float | None] | None]

STATISTICS = ("median", "p10", "p90")

_IMPEDANCES = ("resistance_ohm", "reactance_ohm", "impedance_ohm")


@dataclass(frozen=True)
class CurveSet:
    """A design's curves over frequency, as one circle may see them.

    Each statistic is {"median", "p10", "p90"} -> list of F numbers, None where a frequency is not shown.
    p10 and p90 are None as a whole below ten persons. R, X and |Z| follow from the rounded rejection and the
    phase of the median: all of them say the same.
    """

    freq_hz: tuple[float, ...]
    rejection_db: Statistic
    resistance_ohm: Statistic
    reactance_ohm: Statistic
    impedance_ohm: Statistic
    devices: int | str
    kind: str = "common_mode"


@dataclass(frozen=True)
class OwnCurveRow:
    """The newest curve of one of the viewer's own devices, F points: None where the sweep does not reach."""

    device: str
    tag: str
    test: str
    freq_hz: tuple[float, ...]
    rejection_db: list[float | None]
    resistance_ohm: list[float | None]
    reactance_ohm: list[float | None]
    impedance_ohm: list[float | None]


REFERENCE_OHM = 50.0


@read_once
def get_design_curves(viewer: Viewer, key: str) -> CurveSet | None:
    """Return the curves this viewer may see; None where the release holds too little of the design.

    Raises BenchnightError `design.not_found`.
    """
    design = Design.objects.reached(key)
    if design is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    cell = Cell.objects.filter(design=design, kind="common_mode", band="", last_release=None).first()
    return None if cell is None else build_curve_set(cell, get_circle(viewer))


def get_curves_by_design(viewer: Viewer, keys: Sequence[str]) -> dict[str, CurveSet]:
    """Return by key the curves of those designs that this viewer may see; two queries."""
    cells = Cell.objects.filter(design__key__in=keys, kind="common_mode", band="", last_release=None)
    found = {
        cell.of: build_curve_set(cell, get_circle(viewer)) for cell in cells.annotate(of=F("design__key"))
    }
    return {key: curves for key in keys if (curves := found.get(key)) is not None}


def build_curve_set(cell: Cell, seen_by: Circle) -> CurveSet | None:
    """Round what a cell holds of its curves for one circle; None where too few persons stand behind it."""
    limits = group_settings.get_thresholds()
    least = evidence_view.get_min_contributors(seen_by, limits)
    if cell.contributors < least or not cell.curves:
        return None
    shown = np.array(cell.curves["contributors"]) >= least
    if not shown.any():
        return None
    detailed = evidence_view.has_detail(cell.curves["contributors"], limits)
    rejection_db = {
        name: np.where(
            shown if name == "median" else detailed,
            rounding.round_figures(_get_curve(cell, "rejection_db", name), "rejection_db", detailed),
            np.nan,
        )
        for name in STATISTICS
    }
    return CurveSet(
        freq_hz=tuple(GRID_HZ),
        rejection_db={name: _list_shown(values) for name, values in rejection_db.items()},
        **_derive_impedances(rejection_db, _round_phase(cell, detailed)),
        devices=cell.devices if seen_by == "members" else rounding.format_count_band(cell.devices),
    )


def _round_phase(cell: Cell, detailed: Bools) -> Floats:
    """Round the phase of the median resistance and reactance, rad."""
    resistance_ohm, reactance_ohm = (_get_curve(cell, name, "median") for name in _IMPEDANCES[:2])
    return rounding.round_phase(np.arctan2(reactance_ohm, resistance_ohm), detailed)


def _derive_impedances(rejection_db: dict[str, Floats], phase_rad: Floats) -> dict[str, Statistic]:
    """Derive R, X and |Z| of each statistic from what is shown of its rejection, and the median's phase."""
    z_ohm = {name: rounding.build_impedances(values, phase_rad) for name, values in rejection_db.items()}
    parts = (np.real, np.imag, np.abs)
    return {
        quantity: {name: _list_shown(part(values)) for name, values in z_ohm.items()}
        for quantity, part in zip(_IMPEDANCES, parts, strict=True)
    }


def _get_curve(cell: Cell, metric: str, statistic: str) -> Floats:
    return np.array(cell.curves[metric][statistic], dtype=np.float64)


def _list_shown(values: Floats) -> list[float | None] | None:
    """List numbers for JSON; None as a whole where nothing of it is shown."""
    return round_for_json(values, 4) if np.isfinite(values).any() else None


def compute_rejection_db(z_ohm: NDArray[Any]) -> NDArray[np.float64]:
    """Return 20 log10 |1 + Z/(2 Z0)| at 50 ohm, NaN where Z is (series impedance, CISPR 17)."""
    known = np.isfinite(z_ohm)
    ratio = np.abs(1 + np.where(known, z_ohm, 0).astype(np.complex128) / (2 * REFERENCE_OHM))
    found: NDArray[np.float64] = np.where(
        known & (ratio > 0), 20 * np.log10(np.maximum(ratio, 1e-300)), np.nan
    )
    return found


def round_for_json(values: NDArray[np.float64], digits: int) -> list[float | None]:
    """Return numbers for JSON: rounded, None for NaN."""
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]


# The curves of the viewer's own devices of a design: theirs alone, never part of what others are sent.

MOST_OWN_CURVES = 3  # more lines over a design's range are no longer told apart

_STORED_CURVE = np.dtype("<c8")


def list_own_curves(viewer: Viewer, key: str) -> tuple[OwnCurveRow, ...]:
    """Return the newest common-mode curve of each own device of the design, the last tested first, at most
    three.

    A steward's own ones only, like everybody's. Nothing for who is not signed in.
    """
    if not viewer.signed_in:
        return ()
    found = (
        Result.objects.filter(
            current=True,
            test__kind="common_mode",
            test__device__design__key=key,
            test__device__contributor__member=viewer.member_id,
        )
        .exclude(evidence_curve=b"")
        .order_by("-test__measured_on", "-test__pk")
        .values_list("test__device__key", "test__device__tag", "test__key", "evidence_curve")
    )
    newest: dict[str, OwnCurveRow] = {}
    for device, tag, test, curve in found:
        if device not in newest:
            newest[device] = _own_curve_row(device, tag, test, bytes(curve))
        if len(newest) == MOST_OWN_CURVES:
            break
    return tuple(newest.values())


def _own_curve_row(device: str, tag: str, test: str, curve: bytes) -> OwnCurveRow:
    z_ohm = np.frombuffer(curve, _STORED_CURVE).astype(np.complex128)
    return OwnCurveRow(
        device=device,
        tag=tag,
        test=test,
        freq_hz=tuple(GRID_HZ),
        rejection_db=round_for_json(compute_rejection_db(z_ohm), 2),
        resistance_ohm=round_for_json(z_ohm.real, 1),
        reactance_ohm=round_for_json(z_ohm.imag, 1),
        impedance_ohm=round_for_json(np.abs(z_ohm), 1),
    )
