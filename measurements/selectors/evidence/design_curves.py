"""A design's curves over frequency, from its cell in the current release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import F
from numpy.typing import NDArray

from measurements.disclosure import evidence_view
from measurements.disclosure.release_rows import order_by_row_id
from measurements.disclosure.viewers import Circle, Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Cell, Design, EvidenceSample, Release, Result, group_settings
from measurements.rf.evidence_grid import GRID_HZ


@dataclass(frozen=True)
class CurveSet:
    """A design's curves over frequency: statistics for all circles, samples for members only.

    Each statistic is {"median", "p10", "p90"} -> list of F numbers or None; for the public p10 and p90
    are None. samples: rejection in dB of each device, identity-free and in random order.
    """

    freq_hz: tuple[float, ...]
    rejection_db: dict[str, list[float | None] | None]
    resistance_ohm: dict[str, list[float | None] | None]
    reactance_ohm: dict[str, list[float | None] | None]
    impedance_ohm: dict[str, list[float | None] | None]
    devices: int | str
    samples: tuple[list[float | None], ...]


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


MOST_SAMPLES = 40  # curves on a chart: more only blacken it, and the percentiles say what they would

REFERENCE_OHM = 50.0

_CURVE = np.dtype("<c8")

_IMPEDANCES = ("resistance_ohm", "reactance_ohm", "impedance_ohm")

Statistic = dict[str, list[float | None] | None]

_NOT_SHOWN: Statistic = {"median": None, "p10": None, "p90": None}


def get_design_curves(viewer: Viewer, key: str, *, samples: bool = True) -> CurveSet | None:
    """Return the curves this viewer may see; None where the release holds too little of the design.

    The public sees the median of rejection in steps of 0.5 dB; members everything, and the curves of
    up to 40 devices unless `samples` is False. Raises BenchnightError `design.not_found`.
    """
    design = Design.objects.reached(key)
    if design is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    cell = Cell.objects.filter(design=design, band="", last_release=None).first()
    least = evidence_view.get_min_contributors(get_circle(viewer), group_settings.get_thresholds())
    return None if cell is None else _cell_curves(cell, get_circle(viewer), least, samples)


def get_curves_by_design(viewer: Viewer, keys: Sequence[str]) -> dict[str, CurveSet]:
    """Return by key, the curves of those designs that this viewer may see, no single devices; two queries."""
    least = evidence_view.get_min_contributors(get_circle(viewer), group_settings.get_thresholds())
    cells = Cell.objects.filter(design__key__in=keys, band="", last_release=None).annotate(
        of=F("design__key")
    )
    found = {cell.of: _cell_curves(cell, get_circle(viewer), least, samples=False) for cell in cells}
    return {key: curves for key in keys if (curves := found.get(key)) is not None}


def _cell_curves(cell: Cell, seen_by: Circle, least: int, samples: bool) -> CurveSet | None:
    if cell.contributors < least or not cell.curves:
        return None
    if seen_by == "public":
        return _public_curves(cell, least)
    return CurveSet(
        freq_hz=tuple(GRID_HZ),
        rejection_db=cell.curves["rejection_db"],
        **{name: cell.curves[name] for name in _IMPEDANCES},
        devices=cell.devices,
        samples=_samples(cell) if samples else (),
    )


def _public_curves(cell: Cell, least: int) -> CurveSet | None:
    statistic = cell.curves["rejection_db"]
    enough = np.array(cell.curves["contributors"]) >= least
    median = evidence_view.coarsen_db(np.array(statistic["median"], dtype=float))
    if not enough.any():
        return None
    shown = round_for_json(np.where(enough, median, np.nan), 1)
    return CurveSet(
        freq_hz=tuple(GRID_HZ),
        rejection_db={"median": shown, "p10": None, "p90": None},
        resistance_ohm=_NOT_SHOWN,
        reactance_ohm=_NOT_SHOWN,
        impedance_ohm=_NOT_SHOWN,
        devices=evidence_view.format_count_band(cell.devices),
        samples=(),
    )


def _samples(cell: Cell) -> tuple[list[float | None], ...]:
    """Return curves of up to 40 devices, in the order of the ids of this release, which is no order at
    all.
    """
    rows = EvidenceSample.objects.filter(cell=cell).values_list("id", "curve")
    salt = Release.objects.order_by("-number").values_list("salt", flat=True).first() or b""
    drawn = order_by_row_id(bytes(salt), rows, lambda row: row[0].hex)[:MOST_SAMPLES]
    return tuple(round_for_json(compute_rejection_db(np.frombuffer(row[1], _CURVE)), 2) for _, row in drawn)


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
