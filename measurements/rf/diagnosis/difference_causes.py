"""Causes in words, each with the figure it rests on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from measurements.rf.diagnosis.difference_fits import CurveFit
from measurements.rf.diagnosis.outlying_curve import OutlyingCurve, RecipeFacts
from measurements.rf.flags import format_megahertz

CAUSE_CODES = (
    "jig",
    "turn_count",
    "core_count",
    "core_tolerance",
    "mix",
    "cracked_core",
    "stray_capacitance",
    "leak",
)
TOLERANCE = 0.25  # of a core, where it may be the cause (common practice, 20 to 25 %)
# A capacitance is told from the spread of hands (about 15 % of it) from here on; house default.
LEAST_EXTRA_F, LEAST_EXTRA_SHARE = 0.5e-12, 0.3


@dataclass(frozen=True)
class Cause:
    """A likely cause: code, sentence, where the curve leaves the range, and its figures (None: not of it).

    impedance_ratio: own to median. behaves_as: turns (or cores) that would show it.
    """

    code: str
    message: str
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


def is_within_tolerance(impedance_ratio: float) -> bool:
    """Whether a core within its maker's tolerance could be so much off."""
    return 1 - TOLERANCE <= impedance_ratio <= 1 + TOLERANCE


def build_jig_cause(seen: OutlyingCurve, floor_db: float) -> Cause:
    """The curve leaves the range where the open jig is near."""
    message = (
        f"From {_mhz(seen.from_hz)} to {_mhz(seen.to_hz)} your figures leave the range, and there they come "
        f"within 10 dB of your own open jig ({floor_db:.0f} dB at worst). That is the jig, not the device: "
        "shorten or screen it, or sweep it both open and linked so that it can be taken out."
    )
    return Cause("jig", message, seen.from_hz, seen.to_hz, floor_db=floor_db)


def list_fit_causes(seen: OutlyingCurve, fit: CurveFit, made: RecipeFacts) -> tuple[Cause, ...]:
    """The changes of an explanation that are more than the spread of hands and cores."""
    causes: list[Cause] = []
    if fit.impedance_ratio != 1.0 and seen.low_outside:
        causes += _of_winding(seen, fit, made)
    if fit.leak_s > 0:
        causes.append(_of_leak(seen, fit))
    least_f = max(LEAST_EXTRA_F, LEAST_EXTRA_SHARE * fit.median_stray_f)
    if abs(fit.extra_f) >= least_f or (fit.extra_f != 0.0 and not causes):
        causes.append(_of_stray(seen, fit, alone=not causes))
    told = [cause for cause in causes if cause.code != "core_tolerance"]
    return tuple(told or causes)  # a core within its tolerance is news only where there is no other


def list_mix_causes(
    seen: OutlyingCurve, made: RecipeFacts, mix: str | None, *, alone: bool = True
) -> tuple[Cause, ...]:
    """Another mix; not `alone` where a turn count explains the curve as well."""
    ratio = np.abs(seen.own_ohm[seen.judged] / seen.design.z_ohm[seen.judged])
    freq_hz = seen.design.freq_hz[seen.judged]
    low, high = float(np.median(ratio[:3])), float(np.median(ratio[-3:]))
    message = (
        f"Your impedance is {low:.2f} of the median at {_mhz(float(freq_hz[0]))} and {high:.2f} at "
        f"{_mhz(float(freq_hz[-1]))}"
    )
    message += f". No count of {made.noun} does that; mix" if alone else ": mix"
    message += f" {mix} in place of {made.mix} does{'' if alone else ' nearly the same'}, by the maker's "
    message += "permeability. Check the core."
    return (Cause("mix", message, seen.from_hz, seen.to_hz, impedance_ratio=low, mix=mix),)


def list_gap_causes(seen: OutlyingCurve) -> tuple[Cause, ...]:
    """An air gap where none should be."""
    ratio = np.abs(seen.own_ohm[seen.judged] / seen.design.z_ohm[seen.judged])
    freq_hz = seen.design.freq_hz[seen.judged]
    low, high = float(np.median(ratio[:3])), float(np.median(ratio[-3:]))
    message = (
        f"Your impedance is {low:.2f} of the median at {_mhz(float(freq_hz[0]))} and {high:.2f} at "
        f"{_mhz(float(freq_hz[-1]))}, as with an air gap in the core: no count of turns does that. Look "
        "for a crack; close and clamp a split core."
    )
    return (Cause("cracked_core", message, seen.from_hz, seen.to_hz, impedance_ratio=low),)


def _of_winding(seen: OutlyingCurve, fit: CurveFit, made: RecipeFacts) -> list[Cause]:
    """Turns miscounted, or less than one turn's worth: the core."""
    ratio, where = fit.impedance_ratio, "Stray capacitance aside,"
    if seen.low is not None and round(made.as_if(seen.low[1])) == round(made.as_if(ratio)):
        ratio, where = seen.low[1], f"Below {_mhz(seen.low[0])}"
    behaves_as = made.as_if(ratio)
    message = f"{where} your impedance is {ratio:.2f} of the median"
    if round(behaves_as) not in (0, made.count):
        rule = "by the ratio" if made.beads else "by the square root of the ratio"
        message += (
            f": {made.count} {made.noun} would behave as {round(behaves_as)} ({behaves_as:.1f} {rule}). "
        )
        message += f"Count the {made.noun}."
        if is_within_tolerance(ratio):
            message += " A core at the end of its maker's tolerance would do the same."
        code = "core_count" if made.beads else "turn_count"
    elif is_within_tolerance(ratio):
        message += f", less than one of {made.count} {made.noun}: a core at the end of its maker's tolerance."
        code = "core_tolerance"
    else:
        return []
    return [Cause(code, message, seen.from_hz, seen.to_hz, impedance_ratio=ratio, behaves_as=behaves_as)]


def _of_stray(seen: OutlyingCurve, fit: CurveFit, *, alone: bool) -> Cause:
    own_hz, median_hz = (None if math.isnan(each) else each for each in seen.resonances_hz)
    more = fit.extra_f > 0
    message = f"{_low_words(seen)} yet higher up " if alone and seen.low is not None else "Higher up "
    message += (
        f"it behaves as if {abs(fit.extra_f) * 1e12:.1f} pF {'more' if more else 'less'} lay across the "
    )
    message += "winding than in the median device"
    if own_hz is not None and median_hz is not None:
        message += f" (self-resonance at {own_hz / 1e6:.1f} MHz, the median's at {median_hz / 1e6:.1f} MHz)"
    if more:
        message += ". Spread the turns and keep the two ends apart."
        message += "" if seen.jig_swept else " Or it is the jig: sweep it with nothing attached to tell."
    else:
        message += ". The turns lie further apart than the others', or only your jig was taken out."
    return Cause(
        "stray_capacitance",
        message,
        seen.from_hz,
        seen.to_hz,
        extra_capacitance_f=fit.extra_f,
        self_resonance_hz=own_hz,
        median_self_resonance_hz=median_hz,
    )


def _of_leak(seen: OutlyingCurve, fit: CurveFit) -> Cause:
    own_ohm, median_ohm = (
        float(np.abs(z_ohm[seen.judged]).max()) for z_ohm in (seen.own_ohm, seen.design.z_ohm)
    )
    level_db = 20 * math.log10(1 + 1 / (100 * fit.leak_s))
    message = f"{_low_words(seen)} yet the" if seen.low is not None else "The"
    message += f" peak is {_short(own_ohm)} ohm where the median's is {_short(median_ohm)}, as if "
    message += (
        f"{_short(1 / fit.leak_s)} ohm lay across the winding: no rejection gets beyond {level_db:.0f} dB. "
    )
    message += (
        "The open jig does not show it: look for damp or a conductive former."
        if seen.jig_swept
        else "The jig may let that much through: sweep it with nothing attached to tell. Else look for damp "
        "or a conductive former."
    )
    return Cause("leak", message, seen.from_hz, seen.to_hz, leak_ohm=1 / fit.leak_s)


def _low_words(seen: OutlyingCurve) -> str:
    return (
        ""
        if seen.low is None
        else f"Below {_mhz(seen.low[0])} your impedance is {seen.low[1]:.2f} of the median,"
    )


def _mhz(freq_hz: float) -> str:
    return format_megahertz(float(f"{freq_hz:.2g}"))


def _short(ohm: float) -> str:
    return f"{float(f'{ohm:.2g}'):.0f}"
