"""How likely is each thing that may be wrong with a device? The winding model weighs an outlying curve.

Every hypothesis changes the design's median winding in one way: other turns, another mix, an air gap in
the core (a crack, or a split core that is not closed), capacitance or a leak across it. Beside the change
there is the spread that hands and cores have anyway. What is left of ln Z is weighed by that spread; a change
of unknown size is tried at several sizes. Shares are among these hypotheses, with house priors.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from measurements.rf.diagnosis.core_identification import S21_NOISE, stack_parts
from measurements.rf.diagnosis.difference_fits import FitProblem
from measurements.rf.diagnosis.outlying_curve import RecipeFacts
from measurements.rf.ferrites import winding_terms
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import BuildSpreads
from measurements.rf.sweeps.sweep import Complexes, Floats

# What is usual among devices that differ at all (house default, no source).
CAUSE_PRIORS = {
    "turn_count": 0.4,
    "mix": 0.1,
    "cracked_core": 0.1,
    "stray_capacitance": 0.25,
    "leak": 0.1,
    "spread": 0.05,
}
LIKELIHOOD_CODES = ("core_count", *CAUSE_PRIORS)
MOST_TURNS_OFF = 3
GAPS = np.geomspace(5e-5, 5e-2, 13)  # gap over path length: 0.01 mm to 7 mm in a 61 mm ring
EXTRA_F = np.geomspace(0.5e-12, 30e-12, 13)
LEAKS_S = np.geomspace(1e-5, 1e-3, 9)
LEAST_SHARE = 0.05


@dataclass(frozen=True)
class Likelihood:
    """code: of a cause, or `spread`: an unusual core and hand, nothing wrong. what: in words.

    share: of all hypotheses together, 0 to 1.
    """

    code: str
    what: str
    share: float


@dataclass(frozen=True)
class _Trial:
    """One hypothesis of one size: its admittance from the core and from what lies across (F,)."""

    code: str
    what: str
    prior: float
    core_s: Complexes
    across_s: Complexes


def weigh_hypotheses(
    asked: FitProblem, made: RecipeFacts, mixes: Mapping[str, Permeability], spreads: BuildSpreads
) -> tuple[Likelihood, ...]:
    """Every hypothesis with a share of 5 % or more, the likeliest first.

    Turns and mixes each count by themselves, changes of unknown size together.
    """
    trials = list(_trials(asked, made, mixes))
    misfit = (1 + 1 / asked.design.devices) * spreads.misfit_device**2
    inverse = np.asarray(np.linalg.inv(_rest(asked, misfit)), dtype=np.float64)
    weights = np.array([math.log(each.prior) + _evidence(asked, each, spreads, inverse) for each in trials])
    shares = np.exp(weights - weights.max())
    by_name: dict[tuple[str, str], float] = defaultdict(float)
    for trial, share in zip(trials, shares / shares.sum(), strict=True):
        by_name[trial.code, trial.what] += float(share)
    told = [Likelihood(code, what, share) for (code, what), share in by_name.items() if share >= LEAST_SHARE]
    return tuple(sorted(told, key=lambda each: -each.share))


def _trials(asked: FitProblem, made: RecipeFacts, mixes: Mapping[str, Permeability]) -> Iterator[_Trial]:
    core_s, stray_s = asked.core_s, asked.stray_s
    yield _Trial("spread", "nothing but an unusual core and winding", CAUSE_PRIORS["spread"], core_s, stray_s)
    yield from _turns(asked, made)
    freq_hz = asked.design.freq_hz[asked.judged]
    own = mixes.get(made.mix)
    if own is not None and own.covers(freq_hz):
        others = {name: mix for name, mix in mixes.items() if name != made.mix and mix.covers(freq_hz)}
        for name, mix in others.items():
            changed = core_s * own.at(freq_hz) / mix.at(freq_hz)
            yield _Trial(
                "mix",
                f"mix {name} in place of {made.mix}",
                CAUSE_PRIORS["mix"] / len(others),
                changed,
                stray_s,
            )
        for gap in GAPS:
            what = "a cracked or half-open core"
            prior = CAUSE_PRIORS["cracked_core"] / GAPS.size
            yield _Trial("cracked_core", what, prior, core_s * (1 + gap * own.at(freq_hz)), stray_s)
    for extra_f in EXTRA_F:
        across = stray_s + asked.per_farad_s * extra_f
        what, prior = (
            "too much capacitance across the winding",
            CAUSE_PRIORS["stray_capacitance"] / EXTRA_F.size,
        )
        yield _Trial("stray_capacitance", what, prior, core_s, across)
    for leak_s in LEAKS_S:
        what, prior = "a leak across the winding, or the jig", CAUSE_PRIORS["leak"] / LEAKS_S.size
        yield _Trial("leak", what, prior, core_s, stray_s + leak_s)


def _turns(asked: FitProblem, made: RecipeFacts) -> Iterator[_Trial]:
    """One off is likelier than two, two than three; of beads one in thirty is no news, so steps are wider."""
    step = max(round(made.count / 10), 1) if made.beads else 1
    off = [
        each for each in range(-MOST_TURNS_OFF, MOST_TURNS_OFF + 1) if each and made.count + each * step > 0
    ]
    total = sum(1 / abs(each) for each in off)
    code = "core_count" if made.beads else "turn_count"
    for each in off:
        count = made.count + each * step
        ratio = made.count / count if made.beads else (made.count / count) ** 2
        what = f"{count} {made.noun} in place of {made.count}"
        prior = CAUSE_PRIORS["turn_count"] / abs(each) / total
        yield _Trial(code, what, prior, asked.core_s * ratio, asked.stray_s)


def _evidence(asked: FitProblem, trial: _Trial, spreads: BuildSpreads, inverse: Floats) -> float:
    """Logarithm of how well a hypothesis foresees the own curve, the spread of builds around it.

    inverse: of the covariance that all hypotheses share; a core and a hand add two directions to it, which
    the matrix inversion lemma takes in without another inversion (textbook).
    """
    total_s = trial.core_s + trial.across_s
    apart = stack_parts(-np.log(asked.own_s / total_s))
    more = np.sqrt(1 + 1 / asked.design.devices)  # the median is not known exactly either
    core = more * spreads.device[0] * stack_parts(trial.core_s / total_s)
    hand = more * spreads.device[1] * stack_parts(-asked.stray_s / total_s)
    builds = np.stack([core, hand], axis=1)
    weighted = inverse @ builds
    inner = np.eye(2) + builds.T @ weighted
    toward = weighted.T @ apart
    square = float(apart @ inverse @ apart - toward @ np.linalg.solve(inner, toward))
    return -0.5 * (square + float(np.linalg.slogdet(inner)[1]))


def _rest(asked: FitProblem, misfit: float) -> Floats:
    """What the model misses, alike at neighbouring frequencies, and the noise of the sweep's S21.

    The same for every hypothesis: one that foresees less impedance must not win by less noise.
    """
    freq_hz, z_ohm = asked.design.freq_hz[asked.judged], 1 / asked.own_s
    by_s21 = np.abs((z_ohm + 100) ** 2 / (100 * z_ohm)) * S21_NOISE
    near = misfit * winding_terms.frequency_correlation(freq_hz) + np.diag(by_s21**2 + 0.005**2)
    # near a sharp resonance the median is no device's curve (`Question.weight`)
    near = near / np.outer(asked.weight, asked.weight)
    zero = np.zeros_like(near)
    return np.block([[near, zero], [zero, near]])
