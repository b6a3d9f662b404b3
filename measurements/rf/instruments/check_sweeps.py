"""What up to three check sweeps show of an analyser after its calibration: residual errors with bounds.

- the through (jig closed on itself): S11 is the match of port 2, S21 the transmission tracking;
- an open or short at the end of about 1 m of coax: tracking and source match;
- a load that the calibration did not use, measured with a meter: directivity.

The calibration's own standards read perfect by construction and show nothing; such a sweep is recognised and
left aside. One model of port 1 explains the load and the coax together (`residual_fit.py`). A bound is the
size that was found plus its doubt (95 %); a term that is known less well than to 0.025 counts as not measured
and keeps its assumed size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import log10
from typing import Any, Literal

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.analyser import Analyser
from measurements.rf.instruments import residual_fit
from measurements.rf.instruments.residual_fit import LineCheck, LoadCheck
from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

CHECK_ROLES = ("check_through", "check_line", "check_load")
End = Literal["open", "short"]
ENDS: tuple[End, ...] = ("open", "short")
BY_CONSTRUCTION = 0.0005  # a reading as near as this to the ideal one is that of a calibration standard
KNOWN_WITHIN = 0.025  # largest doubt of a residual that counts as measured
KNOWN_ALONE = 0.05  # the same by the sweeps alone: half of what is thought possible before any sweep
LONG_ENOUGH = 0.5  # radians of round trip at the top of the sweep: below it no line separates the terms
SUM_TO_TERM = 5.0  # of two equal discs the larger exceeds a fifth of the sum's size in 1 of 25 (closed form)
_MOST_POINTS = 121
_LEAST_POINTS = 11
_LEAST_RESIDUAL, _LEAST_NOISE = 0.0005, 0.0002
_MOST_NOISE = 0.01  # of each component: an honest hobby analyser stays below 0.005
_DEAD = 0.5  # a through that passes less, or a line that returns less, is something else


@dataclass(frozen=True)
class MeasuredResiduals:
    """Bounds (95 %) as linear sizes; None where the sweeps do not show the term.

    directivity, source_match, reflection_tracking: of port 1. port2_match: of port 2.
    transmission_tracking: of S21. reflection_sum: tracking and source match together, from an open or short
    without a line. noise: rms of one S-parameter. notes: codes of what the sweeps could not show.
    """

    directivity: float | None = None
    source_match: float | None = None
    reflection_tracking: float | None = None
    reflection_sum: float | None = None
    port2_match: float | None = None
    transmission_tracking: float | None = None
    noise: float | None = None
    notes: tuple[str, ...] = ()

    def apply_to(self, stated: Analyser) -> Analyser:
        """Return the description with the measured sizes in place of the assumed ones.

        One radius serves all residuals of port 1: it is the largest of them, and a term that was not
        measured keeps the stated size.
        """
        shown = [self.directivity, self.source_match, self.reflection_tracking]
        sizes = [stated.reflection_residual if size is None else size for size in shown]
        if self.transmission_tracking is not None:
            sizes.append(self.transmission_tracking)
        if self.reflection_sum is not None and self.reflection_sum > 2 * stated.reflection_residual:
            sizes.append(SUM_TO_TERM * self.reflection_sum)
        changes: dict[str, Any] = {
            "reflection_residual": round(float(np.clip(max(sizes), _LEAST_RESIDUAL, 0.3)), 4)
        }
        if self.port2_match is not None:
            match_db = -20 * log10(min(max(self.port2_match, 1e-4), 0.7))
            changes["port2_match_db"] = round(match_db - 0.05, 1)  # rounded to the cautious side
        if self.noise is not None:
            changes["noise"] = round(float(np.clip(self.noise, _LEAST_NOISE, 0.1)), 5)
        return replace(stated, **changes)

    def as_json(self) -> dict[str, Any]:
        """Return bounds as stored and shown; a term that was not measured is null."""
        names = (
            "directivity",
            "source_match",
            "reflection_tracking",
            "reflection_sum",
            "port2_match",
            "transmission_tracking",
            "noise",
        )
        return {
            **{name: to_json_number(getattr(self, name)) for name in names},
            "notes": list(self.notes),
        }


def measure_residuals(
    sweeps: Mapping[str, Sweep],
    *,
    line_end: End = "open",
    load_ohm: float | None = None,
    assumed: float = 0.01,
) -> MeasuredResiduals:
    """Measure what the check sweeps show.

    sweeps: by role, any of `CHECK_ROLES`. line_end: what ends the line of `check_line`. load_ohm: the load of
    `check_load` by a meter. assumed: residual of what no sweep shows, for the match of port 2.
    Raises BenchnightError `analyser.check_*` for a sweep that is not what its role says.
    """
    for role, sweep in sweeps.items():
        _check_sweep(role, sweep)
    notes: list[str] = []
    load = _prepare_load(sweeps.get("check_load"), load_ohm, notes)
    line = _prepare_line(sweeps.get("check_line"), line_end, notes)
    fitted = _fit_port1(load, line, notes)
    through = _measure_through(sweeps.get("check_through"), fitted, assumed, notes)
    noises = [_estimate_noise(sweep.s[:, 0, 0]) for sweep in sweeps.values()]
    noise = float(np.sqrt(2) * max(noises)) if noises else None
    return replace(fitted.residuals, **through, noise=noise, notes=tuple(notes))


def _check_sweep(role: str, sweep: Sweep) -> None:
    if role not in CHECK_ROLES:
        raise BenchnightError(
            "analyser.check_role", f"Check sweeps are: {', '.join(CHECK_ROLES)}.", field=role
        )
    if sweep.magnitude_only or not sweep.measured[0, 0]:
        raise BenchnightError(
            "analyser.check_phase",
            "A check sweep needs S11 with its phase. Save it as Touchstone.",
            field=role,
        )
    if sweep.points < _LEAST_POINTS:
        raise BenchnightError(
            "analyser.check_points",
            f"A check sweep needs {_LEAST_POINTS} points or more. Sweep 1 to 30 MHz with 101 points.",
            field=role,
        )
    if _estimate_noise(sweep.s[:, 0, 0]) > _MOST_NOISE:
        raise BenchnightError(
            "analyser.check_noisy",
            "This check sweep jumps from point to point. Check the connections and sweep 1 to 30 MHz again.",
            field=role,
        )


def _thin(sweep: Sweep) -> tuple[Floats, Complexes]:
    """Return frequencies and S11, at most `_MOST_POINTS`."""
    keep = np.unique(np.round(np.linspace(0, sweep.points - 1, min(sweep.points, _MOST_POINTS))).astype(int))
    return sweep.freq_hz[keep], sweep.s[keep, 0, 0]


def _estimate_noise(values: Complexes) -> float:
    """Return the standard deviation of each component, from second differences (closed form: sqrt 6)."""
    second = np.diff(values, 2)
    return max(float(np.sqrt(np.mean(np.abs(second) ** 2) / 2 / 6)), 1e-4)


def _prepare_load(sweep: Sweep | None, load_ohm: float | None, notes: list[str]) -> LoadCheck | None:
    if sweep is None:
        return None
    if load_ohm is None or not 25.0 <= load_ohm <= 100.0:
        raise BenchnightError(
            "analyser.check_load_ohm",
            "Measure the load with a meter and give its value, from 25 to 100 ohm.",
            field="check_load_ohm",
        )
    freq_hz, s11 = _thin(sweep)
    if float(np.median(np.abs(s11))) < BY_CONSTRUCTION:
        notes.append("load_by_construction")
        return None
    if float(np.median(np.abs(s11 - (load_ohm - 50) / (load_ohm + 50)))) > 0.3:
        raise BenchnightError(
            "analyser.check_load", "check_load is no sweep of a load of this value.", field="check_load"
        )
    return LoadCheck(freq_hz, s11, _estimate_noise(s11), load_ohm)


def _prepare_line(sweep: Sweep | None, end: End, notes: list[str]) -> LineCheck | None:
    if sweep is None:
        return None
    freq_hz, s11 = _thin(sweep)
    sign = 1.0 if end == "open" else -1.0
    if float(np.median(np.abs(s11 - sign))) < BY_CONSTRUCTION:
        notes.append("end_by_construction")
        return None
    if abs(complex(s11[0]) - sign) > 1.0 or float(np.median(np.abs(s11))) < _DEAD:
        raise BenchnightError(
            "analyser.check_line",
            f"check_line is no sweep of a line with an {end} at its end. Check the file and what ended it.",
            field="check_line",
        )
    return LineCheck(freq_hz, s11, _estimate_noise(s11), sign)


@dataclass(frozen=True)
class _Fitted:
    """The residuals of port 1, and directivity as found: (2,) base and slope, with twice its deviation."""

    residuals: MeasuredResiduals
    directivity: tuple[complex, complex] = (0j, 0j)
    top_hz: float = 1.0


def _fit_port1(load: LoadCheck | None, line: LineCheck | None, notes: list[str]) -> _Fitted:
    if load is None and line is None:
        return _Fitted(MeasuredResiduals())
    fit = residual_fit.fit_residuals(load, line)
    if fit.misfit > residual_fit.LARGEST_MISFIT:
        raise BenchnightError(
            "analyser.check_unlike",
            "No residual errors explain these sweeps. Check that the load and the line are what their fields "
            "say, that one calibration served both, and that the coax is good.",
            field="check_load" if line is None else "check_line",
        )
    bounds: dict[str, float | None] = {}
    for name in ("directivity", "source_match", "reflection_tracking"):
        found = fit.terms[name]
        is_known = found.doubt <= KNOWN_WITHIN and found.alone <= KNOWN_ALONE
        bounds[name] = found.bound if is_known else None
        if bounds[name] is None:
            notes.append(f"{name}_not_shown")
    is_short_line = line is not None and fit.round_trip_rad < LONG_ENOUGH
    if is_short_line:
        notes.append("line_too_short")
        bounds["source_match"] = bounds["reflection_tracking"] = None
    known = MeasuredResiduals(
        directivity=bounds["directivity"],
        source_match=bounds["source_match"],
        reflection_tracking=bounds["reflection_tracking"],
        reflection_sum=fit.end_sum if is_short_line else None,
    )
    directivity = fit.terms["directivity"].value if bounds["directivity"] is not None else (0j, 0j)
    return _Fitted(known, directivity, fit.top_hz)


def _measure_through(
    sweep: Sweep | None, fitted: _Fitted, assumed: float, notes: list[str]
) -> dict[str, float | None]:
    """Return bounds of the match of port 2 and of transmission tracking, by field name."""
    if sweep is None:
        return {}
    if sweep.ports < 2 or not sweep.measured[1, 0] or np.median(np.abs(sweep.s[:, 1, 0])) < _DEAD:
        raise BenchnightError(
            "analyser.check_through",
            "check_through needs S11 and S21 of the jig closed on itself.",
            field="check_through",
        )
    s11, s21 = sweep.s[:, 0, 0], sweep.s[:, 1, 0]
    found: dict[str, float | None] = {}
    if float(np.median(np.abs(s11))) < BY_CONSTRUCTION:
        notes.append("through_by_construction")
    else:
        base, slope = fitted.directivity
        own = fitted.residuals.directivity
        known = base + slope * sweep.freq_hz / fitted.top_hz
        doubt = assumed if own is None else max(own - float(np.max(np.abs(known))), 0.0)
        found["port2_match"] = float(np.max(np.abs(s11 - known))) + doubt
    if float(np.median(np.abs(s21 - 1))) < BY_CONSTRUCTION:
        notes.append("transmission_by_construction")
    else:
        found["transmission_tracking"] = _bound_transmission(sweep.freq_hz, s21)
    return found


def _bound_transmission(freq_hz: Floats, s21: Complexes) -> float:
    """Return the largest |S21 - 1| once the delay of the jig is taken off (least squares of the phase)."""
    phase = np.unwrap(np.angle(s21))
    slope, _ = np.polyfit(freq_hz, phase, 1)
    straight = s21 * np.exp(-1j * slope * freq_hz)
    return float(np.max(np.abs(straight - 1)))
