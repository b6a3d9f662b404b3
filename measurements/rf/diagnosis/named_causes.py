"""Causes in words, each with the figure it rests on: what the posterior names, and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from measurements.rf.diagnosis.change_hypotheses import WindingReference
from measurements.rf.diagnosis.change_posterior import ChangePosterior, WeighedHypothesis
from measurements.rf.flags import format_megahertz
from measurements.rf.kinds import choke_figures
from measurements.rf.sweeps.sweep import Complexes, Floats

CAUSE_CODES = ("jig", "turn_count", "core_count", "mix", "cracked_core", "stray_capacitance", "leak")
LEAST_TOLD = 0.05  # the share from which a hypothesis is listed
MOST_TOLD = 6


@dataclass(frozen=True)
class Cause:
    """A likely cause: code, sentence, share of the posterior, where the curve differs, and its figures.

    impedance_ratio: own to usual, at low frequencies. behaves_as: turns (or cores) that would show it. A
    figure that is not of this cause is None.
    """

    code: str
    message: str
    share: float
    from_hz: float
    to_hz: float
    impedance_ratio: float | None = None
    behaves_as: float | None = None
    extra_capacitance_f: float | None = None
    self_resonance_hz: float | None = None
    median_self_resonance_hz: float | None = None
    leak_ohm: float | None = None
    floor_db: float | None = None
    mix: str | None = None


@dataclass(frozen=True)
class Likelihood:
    """code: of a cause, `as_built`, or `none_of_these`. what: in words. share: of all hypotheses, 0 to 1."""

    code: str
    what: str
    share: float


@dataclass(frozen=True)
class DiagnosedCurve:
    """A curve (F,) beside what it is held against. usual: in words, `the median` or `the recipe`.

    jig_swept: an open jig was sent; floor_db: what it lets through at its worst.
    """

    of: WindingReference
    own_ohm: Complexes
    usual: str
    from_hz: float
    to_hz: float
    jig_swept: bool = False
    floor_db: float | None = None

    @property
    def usual_ohm(self) -> Complexes:
        stray_s = 2j * np.pi * self.of.freq_hz * self.of.stray_f
        return np.asarray(1 / (self.of.core_s + stray_s), dtype=np.complex128)

    @property
    def low_ratio(self) -> float:
        """Return |Z| at the lowest three points, own to usual."""
        return float(np.median(np.abs(self.own_ohm[:3] / self.usual_ohm[:3])))

    @property
    def high_ratio(self) -> float:
        """Return the same at the highest three."""
        return float(np.median(np.abs(self.own_ohm[-3:] / self.usual_ohm[-3:])))


def list_likelihoods(posterior: ChangePosterior) -> tuple[Likelihood, ...]:
    """List hypotheses with a share of 5 % or more, the likeliest first."""
    told = [each for each in posterior.hypotheses if each.share >= LEAST_TOLD][:MOST_TOLD]
    return tuple(Likelihood(each.given.code, each.given.what, each.share) for each in told)


def list_named_causes(seen: DiagnosedCurve, posterior: ChangePosterior) -> tuple[Cause, ...]:
    """List what the posterior names, one cause for each change of it; none where it is silent."""
    best = posterior.named
    if best is None:
        return ()
    share = posterior.by_code[best.given.code]
    return tuple(_BUILDERS[code](seen, best, code, share) for code in best.given.code.split("+"))


def _build_count(seen: DiagnosedCurve, best: WeighedHypothesis, code: str, share: float) -> Cause:
    made = seen.of
    count = best.given.count or made.count
    ratio = (count / made.count) ** (1 if made.beads else 2) * best.level
    behaves_as = made.count * (ratio if made.beads else math.sqrt(ratio))
    rule = "by the ratio" if made.beads else "by the square root of the ratio"
    message = (
        f"Capacitance aside, your impedance is {ratio:.2f} of {seen.usual}: {made.count} {made.noun} would "
        f"behave as {round(behaves_as)} ({behaves_as:.1f} {rule}). Count the {made.noun}."
    )
    return _cause(seen, code, message, share, impedance_ratio=ratio, behaves_as=behaves_as)


def _build_mix(seen: DiagnosedCurve, best: WeighedHypothesis, code: str, share: float) -> Cause:
    message = (
        f"{_ratios(seen)}. No count of {seen.of.noun} does that; mix {best.given.mix} in place of "
        f"{seen.of.mix} does, by the maker's permeability. Check the core."
    )
    return _cause(seen, code, message, share, impedance_ratio=seen.low_ratio, mix=best.given.mix)


def _build_gap(seen: DiagnosedCurve, best: WeighedHypothesis, code: str, share: float) -> Cause:
    message = (
        f"{_ratios(seen)}, as with an air gap in the core: no count of {seen.of.noun} does that. Look for a "
        "crack; close and clamp a split core."
    )
    return _cause(seen, code, message, share, impedance_ratio=seen.low_ratio)


def _build_stray(seen: DiagnosedCurve, best: WeighedHypothesis, code: str, share: float) -> Cause:
    extra_f = best.stray_f + best.more - seen.of.stray_f
    own_hz, usual_hz = _resonances(seen)
    message = (
        f"Higher up it behaves as if {extra_f * 1e12:.1f} pF more lay across the winding than in {seen.usual}"
    )
    if own_hz is not None and usual_hz is not None:
        message += f" (self-resonance at {own_hz / 1e6:.1f} MHz, not at {usual_hz / 1e6:.1f} MHz)"
    message += ". Spread the turns and keep the two ends apart."
    if not seen.jig_swept:
        message += " Or it is the jig: sweep it with nothing attached to tell."
    return _cause(
        seen,
        code,
        message,
        share,
        extra_capacitance_f=extra_f,
        self_resonance_hz=own_hz,
        median_self_resonance_hz=usual_hz,
    )


def _build_leak(seen: DiagnosedCurve, best: WeighedHypothesis, code: str, share: float) -> Cause:
    level_db = 20 * math.log10(1 + 1 / (100 * best.more))
    own_ohm, usual_ohm = (float(np.abs(z_ohm).max()) for z_ohm in (seen.own_ohm, seen.usual_ohm))
    message = (
        f"The peak is {_short(own_ohm)} ohm, not {_short(usual_ohm)}, as if {_short(1 / best.more)} ohm lay "
        f"across the winding: no rejection gets beyond {level_db:.0f} dB. "
    )
    message += (
        "The open jig does not show it: look for damp or a conductive former."
        if seen.jig_swept
        else "The jig may let that much through: sweep it with nothing attached to tell. Else look for damp "
        "or a conductive former."
    )
    return _cause(seen, code, message, share, leak_ohm=1 / best.more)


def _build_jig(seen: DiagnosedCurve, best: WeighedHypothesis, code: str, share: float) -> Cause:
    message = (
        f"From {_mhz(seen.from_hz)} to {_mhz(seen.to_hz)} what your own open jig lets through "
        f"({seen.floor_db:.0f} dB at worst) explains the difference. That is the jig, not the "
        f"device: shorten or "
        "screen it, or sweep it both open and linked so that it can be taken out."
    )
    return _cause(seen, code, message, share, floor_db=seen.floor_db)


_BUILDERS = {
    "turn_count": _build_count,
    "core_count": _build_count,
    "mix": _build_mix,
    "cracked_core": _build_gap,
    "stray_capacitance": _build_stray,
    "leak": _build_leak,
    "jig": _build_jig,
}


def _cause(
    seen: DiagnosedCurve, code: str, message: str, share: float, **figures: float | str | None
) -> Cause:
    return Cause(code, message, share, seen.from_hz, seen.to_hz, **figures)  # type: ignore[arg-type]


def _ratios(seen: DiagnosedCurve) -> str:
    first_hz, last_hz = float(seen.of.freq_hz[0]), float(seen.of.freq_hz[-1])
    return (
        f"Your impedance is {seen.low_ratio:.2f} of {seen.usual} at {_mhz(first_hz)} and "
        f"{seen.high_ratio:.2f} at {_mhz(last_hz)}"
    )


def _resonances(seen: DiagnosedCurve) -> tuple[float | None, float | None]:
    both = (seen.own_ohm, seen.usual_ohm)
    own, usual = (_known(choke_figures.self_resonance_hz(seen.of.freq_hz, z_ohm)) for z_ohm in both)
    return own, usual


def _known(value: Floats) -> float | None:
    return None if np.isnan(value) else float(value)


def _mhz(freq_hz: float) -> str:
    return format_megahertz(float(f"{freq_hz:.2g}"))


def _short(ohm: float) -> str:
    return f"{float(f'{ohm:.2g}'):.0f}"
