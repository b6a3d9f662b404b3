"""Why does a device differ from the others of its design? Causes read from how its curve differs.

Nothing is said while the curve stays within the design's range. Where it leaves it, a change counts as an
explanation only if taking it back brings the whole curve into the range again; among those, the one that
leaves least over and takes fewest changes is told. Where none does, the curve is an outlier without a cause.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from . import difference_causes, difference_fits
from .design_range import FEWEST_DEVICES, DesignRange
from .difference_causes import Cause
from .difference_fits import Fit
from .ferrite import Permeability
from .jig import FLOOR_MARGIN_DB
from .outlying_curve import Made, Seen
from .sweep import Bools, Complexes, Floats

MOST_LEFT_OVER = 0.2  # rms of log magnitude and phase: 20 % or 11 degrees; beyond it a fit explains nothing
PLAIN = 2.5  # a fit with one change is preferred to one with two that leaves up to so much less over
MIX_BY = 0.6  # another mix alone is told only where every other explanation leaves so much more over
ALIKE = 1.5  # and beside another turn count where it leaves hardly more over
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
class Difference:
    """outlier: whether the curve leaves the range, and from where to where. causes: the gravest first."""

    outlier: bool
    from_hz: float | None
    to_hz: float | None
    causes: tuple[Cause, ...]


def explain(
    design: DesignRange,
    own: OwnCurve,
    made: Made,
    mixes: Mapping[str, Permeability],
) -> Difference | None:
    """How `own` differs from its design; None where too little is published or swept to say.

    mixes: the published tables by name, that of the recipe's own mix under `made.mix`.
    """
    judged = design.known & np.isfinite(own.z_ohm) & (np.abs(np.nan_to_num(own.z_ohm)) > 0)
    if design.devices < FEWEST_DEVICES or np.count_nonzero(judged) < FEWEST_POINTS:
        return None
    left = design.leaves(np.abs(own.z_ohm), judged)
    if not left.any():
        return Difference(False, None, None, ())
    seen = Seen(design, own.z_ohm, judged, left, own.floor_db is not None)
    causes = _causes(seen, own, made, mixes)
    return Difference(True, seen.from_hz, seen.to_hz, causes)


def _causes(seen: Seen, own: OwnCurve, made: Made, mixes: Mapping[str, Permeability]) -> tuple[Cause, ...]:
    limited = seen.left & own.jig_limited
    if own.floor_db is None or limited.sum() < MOSTLY * seen.left.sum():
        return _of_device(seen, made, mixes)
    floor_db = float(own.floor_db[limited].min())
    jig = (difference_causes.of_jig(replace(seen, left=limited), floor_db),)
    # what a jig lets through lies across the device like a capacitance or a leak: if that is all, the
    # jig is all, also below the frequencies where it is near
    across = [fit for fit in _able(seen, made, {}) if fit.impedance_ratio == 1.0]
    clear = seen.judged & ~own.jig_limited
    left = seen.design.leaves(np.abs(own.z_ohm), clear)
    if across or clear.sum() < FEWEST_POINTS or not left.any():
        return jig
    return (*jig, *_of_device(replace(seen, judged=clear, left=left), made, mixes))


def _of_device(seen: Seen, made: Made, mixes: Mapping[str, Permeability]) -> tuple[Cause, ...]:
    able = _able(seen, made, mixes)
    other_mix = min((fit for fit in able if fit.mix is not None), key=_left_over, default=None)
    best = _plainest([fit for fit in able if fit.mix is None])
    if best is None or (other_mix is not None and other_mix.left_over < MIX_BY * best.left_over):
        return difference_causes.of_mix(seen, made, other_mix.mix) if other_mix else ()
    causes = difference_causes.of_fit(seen, best, made)
    if other_mix is not None and best.impedance_ratio != 1.0 and other_mix.left_over < ALIKE * best.left_over:
        causes += difference_causes.of_mix(seen, made, other_mix.mix, alone=False)
    return causes


def _able(seen: Seen, made: Made, mixes: Mapping[str, Permeability]) -> list[Fit]:
    """Every change that explains what is seen."""
    mix = mixes.get(made.mix)
    asked = difference_fits.question(seen.design, seen.own_ohm, seen.judged, mix)
    others = {name: table for name, table in mixes.items() if name != made.mix}
    return [fit for fit in difference_fits.fits(asked, mix, others) if _explains(seen, fit)]


def _plainest(able: list[Fit]) -> Fit | None:
    """The fit that leaves least over, or one with a single change where it leaves nearly as little."""
    least = min(able, key=_left_over, default=None)
    plain = min((fit for fit in able if fit.changes == 1), key=_left_over, default=None)
    if least is not None and plain is not None and plain.left_over <= PLAIN * least.left_over:
        return plain
    return least


def _explains(seen: Seen, fit: Fit) -> bool:
    if fit.left_over > MOST_LEFT_OVER:
        return False
    if fit.mix is not None and not difference_causes.within_tolerance(fit.impedance_ratio):
        return False
    return not seen.design.leaves(np.abs(fit.undone_ohm), seen.judged).any()


def _left_over(fit: Fit) -> float:
    return fit.left_over
