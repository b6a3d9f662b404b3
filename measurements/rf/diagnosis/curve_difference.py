"""Why does a device differ from the others of its design? Causes read from how its curve differs.

Nothing is said while the curve stays within the design's range. Where it leaves it, a change counts as an
explanation only if taking it back brings the whole curve into the range again; among those, the one that
leaves least over and takes fewest changes is told. Where none does, the curve is an outlier without a cause.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.diagnosis import difference_causes, difference_fits, difference_likelihood
from measurements.rf.diagnosis.difference_causes import Cause
from measurements.rf.diagnosis.difference_fits import CurveFit
from measurements.rf.diagnosis.difference_likelihood import Likelihood
from measurements.rf.diagnosis.outlying_curve import FEWEST_DEVICES, DesignRange, OutlyingCurve, RecipeFacts
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import BuildSpreads
from measurements.rf.instruments.jig import FLOOR_MARGIN_DB
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

MOST_LEFT_OVER = 0.2  # rms of log magnitude and phase: 20 % or 11 degrees; beyond it a fit explains nothing
PLAIN = 2.5  # a fit with one change is preferred to one with two that leaves up to so much less over
MIX_BY = 0.6  # another mix alone is told only where every other explanation leaves so much more over
ALIKE = 1.5  # and beside another turn count where it leaves hardly more over
CRACKED = 0.8  # a gap explains a little of most curves: it is told only where it is much the likeliest
FEWEST_POINTS = 12  # two thirds of an octave of the grid: less shows no shape
MOSTLY = 0.5  # the share of departing points within the jig's reach from which the jig is the cause


@dataclass(frozen=True)
class OwnCurve:
    """One device's curve on the design's frequencies, (F,), NaN where the sweep does not reach.

    rejection_db: as the jig shows it; floor_db: of the open jig, None where it was not swept.
    """

    z_ohm: Complexes
    rejection_db: Floats
    floor_db: Floats | None = None

    @property
    def jig_limited(self) -> Bools:
        """Where the open jig is within 10 dB; nowhere when it was not swept."""
        if self.floor_db is None:
            return np.zeros(self.z_ohm.size, dtype=np.bool_)
        return np.asarray(self.rejection_db > self.floor_db - FLOOR_MARGIN_DB)  # False where NaN


@dataclass(frozen=True)
class CurveDifference:
    """outlier: whether the curve leaves the range, and from where to where. causes: the gravest first.

    likelihoods: how likely each thing that may be wrong is, also those that no cause was told of; none
    while the curve is within the range, or where the jig is all there is to see.
    """

    outlier: bool
    from_hz: float | None
    to_hz: float | None
    causes: tuple[Cause, ...]
    likelihoods: tuple[Likelihood, ...] = ()


def explain_difference(
    design: DesignRange,
    own: OwnCurve,
    made: RecipeFacts,
    mixes: Mapping[str, Permeability],
    spreads: BuildSpreads | None = None,
) -> CurveDifference | None:
    """How `own` differs from its design; None where too little is published or swept to say.

    mixes: the published tables by name, that of the recipe's own mix under `made.mix`. spreads: how far
    builds spread, as learned; usual ones by default.
    """
    judged = design.known & np.isfinite(own.z_ohm) & (np.abs(np.nan_to_num(own.z_ohm)) > 0)
    if design.devices < FEWEST_DEVICES or np.count_nonzero(judged) < FEWEST_POINTS:
        return None
    left = design.leaves(np.abs(own.z_ohm), judged)
    if not left.any():
        return CurveDifference(False, None, None, ())
    seen = OutlyingCurve(design, own.z_ohm, judged, left, own.floor_db is not None)
    likelihoods = _likelihoods(seen, own, made, mixes, spreads or BuildSpreads())
    causes = _causes(seen, own, made, mixes, likelihoods)
    jig_alone = {cause.code for cause in causes} == {"jig"}
    return CurveDifference(True, seen.from_hz, seen.to_hz, causes, () if jig_alone else likelihoods)


def _likelihoods(
    seen: OutlyingCurve,
    own: OwnCurve,
    made: RecipeFacts,
    mixes: Mapping[str, Permeability],
    spreads: BuildSpreads,
) -> tuple[Likelihood, ...]:
    """Of each thing that may be wrong, by the points that the jig does not limit; none with too few."""
    clear = seen.judged & ~own.jig_limited
    if np.count_nonzero(clear) < FEWEST_POINTS:
        return ()
    asked = difference_fits.build_fit_problem(seen.design, own.z_ohm, clear, mixes.get(made.mix))
    return difference_likelihood.weigh_hypotheses(asked, made, mixes, spreads)


def _causes(
    seen: OutlyingCurve,
    own: OwnCurve,
    made: RecipeFacts,
    mixes: Mapping[str, Permeability],
    likelihoods: tuple[Likelihood, ...],
) -> tuple[Cause, ...]:
    limited = seen.left & own.jig_limited
    if own.floor_db is None or limited.sum() < MOSTLY * seen.left.sum():
        return _list_device_causes(seen, made, mixes, likelihoods)
    floor_db = float(own.floor_db[limited].min())
    jig = (difference_causes.build_jig_cause(replace(seen, left=limited), floor_db),)
    # what a jig lets through lies across the device like a capacitance or a leak: if that is all, the
    # jig is all, also below the frequencies where it is near
    across = [fit for fit in _list_explaining_fits(seen, made, {}) if fit.impedance_ratio == 1.0]
    clear = seen.judged & ~own.jig_limited
    left = seen.design.leaves(np.abs(own.z_ohm), clear)
    if across or clear.sum() < FEWEST_POINTS or not left.any():
        return jig
    return (*jig, *_list_device_causes(replace(seen, judged=clear, left=left), made, mixes, likelihoods))


def _list_device_causes(
    seen: OutlyingCurve,
    made: RecipeFacts,
    mixes: Mapping[str, Permeability],
    likelihoods: tuple[Likelihood, ...],
) -> tuple[Cause, ...]:
    able = _list_explaining_fits(seen, made, mixes)
    cracked = any(each.code == "cracked_core" and each.share >= CRACKED for each in likelihoods)
    if cracked and any(fit.gap > 0 for fit in able):
        return difference_causes.list_gap_causes(seen)
    able = [fit for fit in able if fit.gap == 0]
    other_mix = min((fit for fit in able if fit.mix is not None), key=_left_over, default=None)
    best = _choose_plainest([fit for fit in able if fit.mix is None])
    if best is None or (other_mix is not None and other_mix.left_over < MIX_BY * best.left_over):
        return difference_causes.list_mix_causes(seen, made, other_mix.mix) if other_mix else ()
    causes = difference_causes.list_fit_causes(seen, best, made)
    if other_mix is not None and best.impedance_ratio != 1.0 and other_mix.left_over < ALIKE * best.left_over:
        causes += difference_causes.list_mix_causes(seen, made, other_mix.mix, alone=False)
    return causes


def _list_explaining_fits(
    seen: OutlyingCurve, made: RecipeFacts, mixes: Mapping[str, Permeability]
) -> list[CurveFit]:
    """Every change that explains what is seen."""
    mix = mixes.get(made.mix)
    asked = difference_fits.build_fit_problem(seen.design, seen.own_ohm, seen.judged, mix)
    others = {name: table for name, table in mixes.items() if name != made.mix}
    return [fit for fit in difference_fits.list_fits(asked, mix, others) if _explains(seen, fit)]


def _choose_plainest(able: list[CurveFit]) -> CurveFit | None:
    """The fit that leaves least over, or one with a single change where it leaves nearly as little."""
    least = min(able, key=_left_over, default=None)
    plain = min((fit for fit in able if fit.changes == 1), key=_left_over, default=None)
    if least is not None and plain is not None and plain.left_over <= PLAIN * least.left_over:
        return plain
    return least


def _explains(seen: OutlyingCurve, fit: CurveFit) -> bool:
    if fit.left_over > MOST_LEFT_OVER:
        return False
    other_core = fit.mix is not None or fit.gap > 0
    if other_core and not difference_causes.is_within_tolerance(fit.impedance_ratio):
        return False
    return not seen.design.leaves(np.abs(fit.undone_ohm), seen.judged).any()


def _left_over(fit: CurveFit) -> float:
    return fit.left_over
