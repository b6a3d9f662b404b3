"""What may be wrong with a ratio device, as hypotheses for the one posterior, and how usual each is.

The priors are a house default without a source, for devices whose curve gives somebody cause to ask.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from measurements.rf.diagnosis.change_posterior import AS_BUILT
from measurements.rf.diagnosis.ratio_model import RatioChange
from measurements.rf.ferrites.ratio_windings import RatioWinding
from measurements.rf.sweeps.sweep import Complexes

RATIO_PRIORS = {
    AS_BUILT: 0.5,
    "turns_ratio": 0.12,
    "turn_count": 0.07,
    "core_count": 0.07,
    "mix": 0.07,
    "cracked_core": 0.04,
    "stray_capacitance": 0.06,
    "leakage": 0.05,
    "connection": 0.05,
    "shunt_loss": 0.04,
    "load_resistor": 0.05,
}
RATIO_CODES = tuple(RATIO_PRIORS)
MOST_OFF = 3  # turns on either side, of each count
# kind of the size, its middle and the standard deviation of its natural logarithm, where fits begin
SIZED = {
    "cracked_core": ("gap", math.log(1.5e-3), 1.3),  # gap over path length: 0.2 mm in a 61 mm ring
    "stray_capacitance": ("far_f", math.log(6e-12), 0.8),
    "leakage": ("leakage", math.log(3.0), 0.5),  # times the usual
    "connection": ("series_ohm", math.log(4.0), 0.9),
    "shunt_loss": ("shunt_s", math.log(2.5e-3), 0.9),
    "load_resistor": ("load", 0.0, 0.45),  # times the stated value
}
WHAT = {
    "cracked_core": "a cracked or half-open core",
    "stray_capacitance": "more capacitance across the far side",
    "leakage": "more leakage: windings apart, or long leads",
    "connection": "a resistance in series: a joint, a plug, thin wire",
    "shunt_loss": "a resistance across a winding: damp, a conducting core under bare wire, a lossier core",
    "load_resistor": "a load resistor of another value than stated",
}
STARTS = (-1.5, 0.0, 1.5)  # of a size, in its standard deviations


@dataclass(frozen=True)
class RatioHypothesis:
    """One thing that may be so. starts: of the unknown size, in standard deviations."""

    code: str
    what: str
    prior: float
    change: RatioChange
    starts: tuple[float, ...] = (0.0,)


def list_ratio_hypotheses(wound: RatioWinding, mu: Mapping[str, Complexes]) -> list[RatioHypothesis]:
    """List every hypothesis about a device; mu: permeability (F,) of each mix that is tabled over the
    sweep.
    """
    found = [RatioHypothesis(AS_BUILT, "as built", RATIO_PRIORS[AS_BUILT], RatioChange())]
    found += _list_turns(wound)
    for stacked in {wound.stacked - 1, wound.stacked + 1} - {0}:
        what = f"{stacked} cores on each other in place of {wound.stacked}"
        prior = RATIO_PRIORS["core_count"] / (2 if wound.stacked > 1 else 1)
        found.append(RatioHypothesis("core_count", what, prior, RatioChange(stacked=stacked)))
    others = [name for name in mu if name != wound.mix]
    for name in others:
        what, prior = f"mix {name} in place of {wound.mix}", RATIO_PRIORS["mix"] / len(others)
        found.append(RatioHypothesis("mix", what, prior, RatioChange(mix=name)))
    for code, (size, middle, spread) in SIZED.items():
        change = RatioChange(size=size, middle=middle, spread=spread)
        found.append(RatioHypothesis(code, WHAT[code], RATIO_PRIORS[code], change, STARTS))
    return found


def _list_turns(wound: RatioWinding) -> Iterator[RatioHypothesis]:
    """List wrong counts: one side alone (another ratio), or both in proportion (the same ratio)."""
    near, far = wound.near_turns, wound.far_turns
    one_side = [(near + off, far) for off in _offsets(near)] + [(near, far + off) for off in _offsets(far)]
    one_side = [(first, last) for first, last in one_side if last > first]
    step = far / near
    both = [(near + off, round((near + off) * step)) for off in _offsets(near)]
    for code, counts in (("turns_ratio", one_side), ("turn_count", both)):
        odds = [1 / (abs(first - near) + abs(last - far) / (step if code == "turn_count" else 1)) ** 2
                for first, last in counts]  # fmt: skip
        for (first, last), share in zip(counts, odds, strict=True):
            what = f"{first}:{last} turns in place of {near}:{far}"
            prior = RATIO_PRIORS[code] * share / sum(odds)
            yield RatioHypothesis(code, what, prior, RatioChange(near_turns=first, far_turns=last))


def _offsets(count: int) -> list[int]:
    return [off for off in range(-MOST_OFF, MOST_OFF + 1) if off != 0 and count + off >= 1]
