"""Conclude from a bypass test: compare its two reflection curves with each other and with commissioning.

A healthy antenna may have an SWR of 2.2 at a band edge, and a healthy device may turn 2.2 into 3. So
neither curve is held against a limit. What a healthy device can do has a bound: a lossless device with an
SWR of s into its nominal load turns an SWR of a into at most s x a (the textbook bound of two mismatches in
cascade). Here s is the house limit of 1.5; the rest of the allowance of 3 covers the line, the analyser and
the person beside it, which belong to the antenna as long as no choke parts them. The allowances are house
defaults; `tests/rf/kinds/test_bypass_simulation.py` counts how often they are wrong.

Every reflection here is referred to the nominal load of its side (`refer_reflection`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from measurements.rf.bands import Band, interpolate
from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Complexes, Floats

Finding = Literal["device_makes_it_worse", "device_changes_nothing", "better_through_device", "inconclusive"]
FINDINGS: tuple[Finding, ...] = (
    "device_makes_it_worse",
    "device_changes_nothing",
    "better_through_device",
    "inconclusive",
)
Change = Literal["as_commissioned", "changed", "cannot_tell"]

WORSE = 3.0  # times the least SWR without the device: no healthy device does that
FAR_APART = 0.5  # median complex difference: an open or a short differs more from a readable antenna
ALIKE = 1.5  # times: what a device within the house limit may do to an SWR
ALIKE_REFLECTION = 0.25  # largest complex difference that still counts as alike
BETTER = 0.7  # of the mean reflection: so much less comes from loss, or from a line that is parted
LOSS_SHOWS = 0.15  # a reflection below it cannot show that a device swallows half of what comes back
SAME_SINCE, CHANGED_SINCE = 0.15, 0.4  # median complex difference to commissioning
CHANGED_WITH_RESONANCE = 0.3  # where the resonance moved or the least SWR rose as well
SHIFT = 0.02  # of the frequency: wind, rain and snow move a resonance by less
LEAST_SWR_CHANGE = 2.0  # times
READABLE_SWR = 6.0  # above it everywhere, an open device and a broken antenna look alike
GOOD_LEAST_SWR = 2.5
AROUND = 0.15  # of a band's edge: how far beside the band a resonance is looked for


@dataclass(frozen=True)
class ReflectionCurve:
    """A reflection over frequency. freq_hz: (F,) rising; reflection: (F,) complex; error: (F,) its bound.

    phase_known: False where only magnitudes were saved.
    """

    freq_hz: Floats
    reflection: Complexes
    error: Floats
    phase_known: bool = True

    def covers(self, band: Band) -> bool:
        """Say whether the sweep spans the band."""
        return bool(self.freq_hz[0] <= band.start_hz and self.freq_hz[-1] >= band.stop_hz)

    def resample(self, at_hz: Floats) -> ReflectionCurve:
        """Return the curve at `at_hz` (G,), which must lie within its span; interpolated as complex
        numbers.
        """
        return ReflectionCurve(
            at_hz,
            interpolate(self.freq_hz, self.reflection, at_hz),
            interpolate(self.freq_hz, self.error, at_hz),
            self.phase_known,
        )

    def cut_around(self, band: Band, beside: float) -> ReflectionCurve:
        """Return the part within the band and `beside` (a fraction) of its edges, as far as it was swept."""
        start = max(band.start_hz * (1 - beside), float(self.freq_hz[0]))
        stop = min(band.stop_hz * (1 + beside), float(self.freq_hz[-1]))
        inner = self.freq_hz[(self.freq_hz > start) & (self.freq_hz < stop)]
        return self.resample(np.concatenate([[start], inner, [stop]]))

    @property
    def swr_low(self) -> Floats:
        """Return (F,) the least SWR that the error allows."""
        return _swr(np.abs(self.reflection) - self.error)

    @property
    def swr_high(self) -> Floats:
        """Return (F,) the greatest SWR that the error allows; infinite where everything may be reflected."""
        return _swr(np.abs(self.reflection) + self.error)

    @property
    def swr(self) -> Floats:
        """Return (F,) the SWR as measured."""
        return _swr(np.abs(self.reflection))


def refer_reflection(reflection: Complexes, ratio: float, error: float) -> tuple[Complexes, Floats]:
    """Refer a reflection measured at Z0 to `ratio` x Z0, with the bound of its error.

    The change of reference is exact: G' = ((1-r) + (1+r) G) / ((1+r) + (1-r) G); the error is multiplied by
    |dG'/dG| = 4 r / |(1+r) + (1-r) G|^2, which is large where a high impedance is read on 50 ohm.
    An open (G = 1) stays an open; the pole lies at |G| > 1 and gives NaN there.
    """
    below = (1 + ratio) + (1 - ratio) * reflection
    with np.errstate(divide="ignore", invalid="ignore"):
        referred = ((1 - ratio) + (1 + ratio) * reflection) / below
        spread = error * 4 * ratio / np.abs(below) ** 2
    return referred, spread


def judge_bypass(through: ReflectionCurve, bypassed: ReflectionCurve, band: Band) -> Finding:
    """Compare the two curves on one band; `inconclusive` where either does not cover it."""
    if not (through.covers(band) and bypassed.covers(band)):
        return "inconclusive"
    at_hz = _list_shared_points(through, bypassed, band)
    on, off = through.resample(at_hz), bypassed.resample(at_hz)
    if not (_is_defined(on) and _is_defined(off)):
        return "inconclusive"
    if float(off.swr_high.min()) > READABLE_SWR:
        return "inconclusive"
    if float(on.swr_low.min()) > WORSE * float(off.swr_high.min()):
        return "device_makes_it_worse" if _is_beyond_doubt(on, off, through, band) else "inconclusive"
    if _is_better(on, off):
        return "better_through_device"
    return "device_changes_nothing" if _is_alike(on, off) else "inconclusive"


def combine_findings(findings: Iterable[Finding]) -> Finding:
    """Conclude over all bands asked about; bands that contradict each other conclude nothing."""
    found = set(findings)
    if "device_makes_it_worse" in found:
        return (
            "device_makes_it_worse" if found <= {"device_makes_it_worse", "inconclusive"} else "inconclusive"
        )
    if "better_through_device" in found:
        return "better_through_device"
    return "device_changes_nothing" if found == {"device_changes_nothing"} else "inconclusive"


def combine_changes(changes: Iterable[Change]) -> Change:
    """Conclude over all bands asked about: one that changed is a change."""
    found = set(changes)
    if "changed" in found:
        return "changed"
    return "as_commissioned" if found == {"as_commissioned"} else "cannot_tell"


def weigh_commissioning(finding: Finding, bypassed_change: Change) -> Finding:
    """Withhold the blame of a device whose antenna is not the one that was commissioned.

    A jumper can make a broken antenna look good: the line takes the place of the missing leg.
    """
    blamed = finding == "device_makes_it_worse" and bypassed_change == "changed"
    return "inconclusive" if blamed else finding


def is_loss_hidden(bypassed: ReflectionCurve, band: Band) -> bool:
    """Tell whether the antenna is matched so well that a lossy device would read the same."""
    if not bypassed.covers(band):
        return False
    off = bypassed.cut_around(band, 0.0)
    return bool((np.abs(off.reflection) - off.error).max() < LOSS_SHOWS)


def compare_with_commissioning(now: ReflectionCurve, then: ReflectionCurve, band: Band) -> dict[str, Any]:
    """Compare one curve with its own of commissioning around one band.

    Answers {"change", "resonance_then_hz", "resonance_now_hz", "least_swr_then", "least_swr_now"}.
    A resonance is null where the least SWR lies at the edge of what was swept.
    """
    if not (now.covers(band) and then.covers(band)):
        return _describe_change("cannot_tell", None, None)
    near_now, near_then = now.cut_around(band, AROUND), then.cut_around(band, AROUND)
    change: Change = "cannot_tell"
    if _is_defined(near_now) and _is_defined(near_then):
        change = _judge_change(now, then, near_now, near_then, band)
    return _describe_change(change, near_then, near_now)


def _judge_change(
    now: ReflectionCurve,
    then: ReflectionCurve,
    near_now: ReflectionCurve,
    near_then: ReflectionCurve,
    band: Band,
) -> Change:
    at_hz = _list_shared_points(now, then, band)
    one, other = now.resample(at_hz), then.resample(at_hz)
    apart = np.abs(one.reflection - other.reflection)
    if not (now.phase_known and then.phase_known):
        apart = np.abs(np.abs(one.reflection) - np.abs(other.reflection))  # a bound: it is at least that
    surely = float(np.median(apart - one.error - other.error))
    shown = _has_moved(near_now, near_then) or _has_worse_least(near_now, near_then)
    if surely > CHANGED_SINCE or (shown and surely > CHANGED_WITH_RESONANCE):
        return "changed"
    same = float(np.median(apart)) < SAME_SINCE and not shown
    return "as_commissioned" if same and now.phase_known and then.phase_known else "cannot_tell"


def _has_moved(now: ReflectionCurve, then: ReflectionCurve) -> bool:
    """Say whether the resonance moved, and so far that the old one would have shown it."""
    hz_now, hz_then = _find_resonance_hz(now), _find_resonance_hz(then)
    if hz_now is None or hz_then is None or abs(hz_now / hz_then - 1) <= SHIFT:
        return False
    if not then.freq_hz[0] <= hz_now <= then.freq_hz[-1]:
        return False
    if float(then.swr_high.min()) > GOOD_LEAST_SWR:
        return False
    there = float(then.resample(np.array([hz_now])).swr_low[0])
    return there > ALIKE * float(then.swr_high.min())


def _has_worse_least(now: ReflectionCurve, then: ReflectionCurve) -> bool:
    """Say whether a least SWR that was good rose beyond the allowance and the errors of both.

    A line-fed antenna with a high SWR moves with whatever hangs at the jumper: its least SWR tells nothing.
    """
    before = float(then.swr_high.min())
    return before <= GOOD_LEAST_SWR and float(now.swr_low.min()) > LEAST_SWR_CHANGE * before


def _find_resonance_hz(curve: ReflectionCurve) -> float | None:
    at = int(curve.swr.argmin())
    return None if at in (0, curve.freq_hz.size - 1) else float(curve.freq_hz[at])


def _describe_change(
    change: Change, then: ReflectionCurve | None, now: ReflectionCurve | None
) -> dict[str, Any]:
    described: dict[str, Any] = {"change": change}
    for name, curve in (("then", then), ("now", now)):
        hz = None if curve is None else _find_resonance_hz(curve)
        described[f"resonance_{name}_hz"] = hz
        described[f"least_swr_{name}"] = None if curve is None else to_json_number(curve.swr.min())
    return described


def _is_beyond_doubt(on: ReflectionCurve, off: ReflectionCurve, through: ReflectionCurve, band: Band) -> bool:
    """Return rule out a resonance that moved out of the band, and a line that the choke parted.

    Neither is a fault of the device. Without phase the second cannot be ruled out.
    """
    if not (on.phase_known and off.phase_known):
        return False
    beside = float(through.cut_around(band, AROUND).swr_low.min())
    apart = np.abs(on.reflection - off.reflection) - on.error - off.error
    return beside > WORSE * float(off.swr_high.min()) and float(np.median(apart)) > FAR_APART


def _is_better(on: ReflectionCurve, off: ReflectionCurve) -> bool:
    through = float(np.mean(np.abs(on.reflection) + on.error))
    bypassed = float(np.mean(np.abs(off.reflection) - off.error))
    lower = float(on.swr_high.min()) <= ALIKE * float(off.swr_low.min())
    return lower and through < BETTER * bypassed


def _is_alike(on: ReflectionCurve, off: ReflectionCurve) -> bool:
    """Say whether no point of the band shows a difference that a device within the house limit would not
    make.

    Without phase, two curves of high SWR may be an open device and a broken antenna: not alike.
    """
    if not (on.phase_known and off.phase_known) and float(np.abs(off.reflection).max()) > 0.6:
        return False
    apart = np.abs(on.reflection - off.reflection) if on.phase_known and off.phase_known else 0.0
    # the errors count against the claim here: what cannot be seen is not alike
    near = np.all(apart + on.error + off.error <= ALIKE_REFLECTION)
    ratio = on.swr / off.swr
    level = np.all((ratio <= ALIKE) & (ratio >= 1 / ALIKE))
    return bool(near and level)


def _list_shared_points(one: ReflectionCurve, other: ReflectionCurve, band: Band) -> Floats:
    points = np.union1d(one.freq_hz, other.freq_hz)
    inner = points[(points > band.start_hz) & (points < band.stop_hz)]
    return np.concatenate([[band.start_hz], inner, [band.stop_hz]])


def _is_defined(curve: ReflectionCurve) -> bool:
    return bool(np.isfinite(curve.reflection).all() and np.isfinite(curve.error).all())


def _swr(magnitude: Floats) -> Floats:
    clipped = np.clip(magnitude, 0.0, None)
    out = np.full(clipped.shape, np.inf)
    np.divide(1 + clipped, 1 - clipped, out=out, where=clipped < 1)
    return out
