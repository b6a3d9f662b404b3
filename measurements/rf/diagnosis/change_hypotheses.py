"""What may be wrong with a winding, as hypotheses for the one posterior, and how usual each is.

The priors are a house default without a source, for devices whose curve gives somebody cause to ask: half are
as built, of the others most are miscounted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.diagnosis.change_posterior import AS_BUILT, NONE_OF_THESE, Hypothesis
from measurements.rf.sweeps.sweep import Complexes, Floats

CHANGE_PRIORS = {
    AS_BUILT: 0.5,
    "turn_count": 0.16,
    "mix": 0.07,
    "cracked_core": 0.09,
    "stray_capacitance": 0.1,
    "leak": 0.04,
    "turn_count+stray_capacitance": 0.005,
}
# An open sweep has shown what the jig puts across the winding: it is there, and rarely anything else besides.
JIG_PRIOR, JIG_LEAK_PRIOR = 0.8, 0.02
LEAST_JIG = 0.1  # of the usual admittance, somewhere: a jig that lets less through explains nothing
HYPOTHESIS_CODES = (
    AS_BUILT,
    "turn_count",
    "core_count",
    "mix",
    "cracked_core",
    "stray_capacitance",
    "leak",
    "jig",
    "turn_count+stray_capacitance",
    "core_count+stray_capacitance",
    NONE_OF_THESE,
)
# The size of an addition: mean and standard deviation of its natural logarithm, and where fits begin.
GAP, GAP_STARTS = (
    (math.log(1.5e-3), 1.3),
    tuple(np.geomspace(5e-5, 5e-2, 10).tolist()),
)  # over path length: 0.2 mm in a 61 mm ring
EXTRA_F, EXTRA_STARTS = (math.log(4e-12), 0.9), tuple(np.geomspace(1e-12, 4e-11, 16).tolist())
LEAK_S, LEAK_STARTS = (math.log(6e-5), 1.2), tuple(np.geomspace(1e-5, 1e-3, 6).tolist())
OTHER_MIX_SPREAD = 0.14  # of its level beyond a device's: makers state 20 % (standard deviations 0.1) of both
OTHER_MIX_STRAY = 0.3  # of the capacitance, which a curve without a sharp resonance tells only roughly
OTHER_MIX_MISFIT = 0.07  # of a table's shape, where the change rests on it
GAP_MISFIT = 0.055
MOST_OFF, MOST_TOGETHER = 12, 4  # turns; beside more capacitance


@dataclass(frozen=True)
class WindingReference:
    """What a winding should show at (F,), by the others of its design or by its recipe.

    core_s, stray_f: of the usual device. level_spread, stray_spread: standard deviations of natural
    logarithms of devices about it. misfit: see `Hypothesis`. mu: permeability (F,) of every mix that is
    tabled there. count: turns, or cores where `beads`. mix: of the recipe. weight: see `weigh_hypotheses`.
    built_odds: how many times likelier than among outlying curves a device is as built.
    """

    freq_hz: Floats
    core_s: Complexes
    stray_f: float
    level_spread: float
    stray_spread: float
    misfit: float
    mu: Mapping[str, Complexes]
    count: int
    mix: str
    beads: bool = False
    weight: Floats | None = None
    built_odds: float = 1.0

    @property
    def noun(self) -> str:
        return "cores" if self.beads else "turns"


def list_hypotheses(of: WindingReference, jig_s: Floats | None = None) -> list[Hypothesis]:
    """List every hypothesis about a winding, some of them with several starts; none of these is not among
    them.

    jig_s: size of the open jig's admittance (F,), where it was swept and not taken out.
    """
    built = Hypothesis(
        AS_BUILT,
        "as built",
        of.built_odds * CHANGE_PRIORS[AS_BUILT],
        of.core_s,
        of.stray_f,
        of.level_spread,
        of.stray_spread,
        of.misfit,
    )
    found = [built, *_list_counts(of, built), *_list_mixes(of, built), *_list_gaps(of, built)]
    omega_j: Complexes = (2j * np.pi * of.freq_hz).astype(np.complex128)
    more = "more capacitance across the winding" + ("" if jig_s is not None else ", its own or the jig's")
    found += _add(built, "stray_capacitance", more, omega_j, EXTRA_F, EXTRA_STARTS)
    leak = "a leak across the winding" + ("" if jig_s is not None else " or in the jig")
    found += _add(built, "leak", leak, np.ones_like(omega_j), LEAK_S, LEAK_STARTS)
    usual_s = np.abs(of.core_s + omega_j * of.stray_f)
    if jig_s is not None and (jig_s > LEAST_JIG * usual_s).any():
        found += _list_jigs(built, jig_s)
    return found


def _list_counts(of: WindingReference, built: Hypothesis) -> Iterator[Hypothesis]:
    """List counts: one off is likelier than two; of beads one in thirty is no news, so steps are wider."""
    step = max(round(of.count / 12), 1) if of.beads else 1
    low, high = max(of.count // 4, 1), 2 * of.count + 2
    counts = [
        count for count in range(of.count - MOST_OFF * step, of.count + MOST_OFF * step + 1, step)
        if low <= count <= high and count != of.count
    ]  # fmt: skip
    total = sum(1 / (count - of.count) ** 2 for count in counts)
    code = "core_count" if of.beads else "turn_count"
    for count in counts:
        ratio = of.count / count if of.beads else (of.count / count) ** 2
        part = 1 / (count - of.count) ** 2 / total
        other = replace(
            built,
            code=code,
            what=f"{count} {of.noun} in place of {of.count}",
            prior=CHANGE_PRIORS["turn_count"] * part,
            core_s=of.core_s * ratio,
            count=count,
        )
        yield other
        if abs(count - of.count) > MOST_TOGETHER * step:
            continue
        both = replace(other, prior=CHANGE_PRIORS["turn_count+stray_capacitance"] * part)
        what = f"{other.what}, and more capacitance across the winding"
        unit_s: Complexes = (2j * np.pi * of.freq_hz).astype(np.complex128)
        yield from _add(both, f"{code}+stray_capacitance", what, unit_s, EXTRA_F, EXTRA_STARTS, both.prior)


def _list_mixes(of: WindingReference, built: Hypothesis) -> Iterator[Hypothesis]:
    own = of.mu.get(of.mix)
    if own is None:
        return
    others = {name: mu for name, mu in of.mu.items() if name != of.mix}
    for name, mu in others.items():
        yield replace(
            built,
            code="mix",
            what=f"mix {name} in place of {of.mix}",
            prior=CHANGE_PRIORS["mix"] / len(others),
            core_s=of.core_s * own / mu,
            level_spread=math.hypot(of.level_spread, OTHER_MIX_SPREAD),
            stray_spread=math.hypot(of.stray_spread, OTHER_MIX_STRAY),
            misfit=max(of.misfit, OTHER_MIX_MISFIT),
            mix=name,
        )


def _list_gaps(of: WindingReference, built: Hypothesis) -> list[Hypothesis]:
    """List an air gap g of the path length: 1/mu_e = 1/mu + g (textbook)."""
    own = of.mu.get(of.mix)
    if own is None:
        return []
    gapped = replace(built, in_core=True, misfit=max(of.misfit, GAP_MISFIT))
    what = "a cracked or half-open core"
    return _add(gapped, "cracked_core", what, of.core_s * own, GAP, GAP_STARTS)


def _list_jigs(built: Hypothesis, jig_s: Floats) -> list[Hypothesis]:
    """List what the open jig shows across the winding, as a capacitance or as a leak."""
    ways = (
        ("the jig, by its own open sweep", 1j, JIG_PRIOR),
        ("a leak of the jig, by its own open sweep", 1.0, JIG_LEAK_PRIOR),
    )
    return [
        replace(
            built,
            code="jig",
            what=what,
            prior=prior,
            more_s=(jig_s * unit).astype(np.complex128),
            more=(0.0, 0.2),
        )
        for what, unit, prior in ways
    ]


def _add(
    built: Hypothesis,
    code: str,
    what: str,
    unit_s: Complexes,
    size: tuple[float, float],
    starts: tuple[float, ...],
    prior: float | None = None,
) -> list[Hypothesis]:
    return [
        replace(
            built,
            code=code,
            what=what,
            prior=CHANGE_PRIORS[code] if prior is None else prior,
            more_s=np.asarray(unit_s, dtype=np.complex128),
            more=size,
            start=math.log(start),
        )
        for start in starts
    ]
