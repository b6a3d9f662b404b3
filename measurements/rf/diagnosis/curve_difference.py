"""Why does a device differ from the others of its design? The one posterior, asked of an outlying curve.

A curve within the design's range gets no diagnosis. Where it leaves it, every hypothesis of
`change_hypotheses` is weighed against the median device; a cause is named from four fifths of the posterior
on, when its fit explains the curve. Else the shares are shown and nothing is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from measurements.rf.diagnosis import change_hypotheses, change_posterior, named_causes, winding_references
from measurements.rf.diagnosis.named_causes import Cause, DiagnosedCurve, Likelihood
from measurements.rf.diagnosis.outlying_curve import FEWEST_DEVICES, DesignRange, RecipeFacts
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import BuildSpreads
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

FEWEST_POINTS = 12  # two thirds of an octave of the grid: less shows no shape
TAKEN_OUT_DB = 0.3  # a raw rejection that differs so much from the impedance's had its jig taken out


@dataclass(frozen=True)
class OwnCurve:
    """One device's curve on the design's frequencies, (F,), NaN where the sweep does not reach.

    rejection_db: as the jig shows it; floor_db: of the open jig, None where it was not swept.
    """

    z_ohm: Complexes
    rejection_db: Floats
    floor_db: Floats | None = None

    @property
    def jig_left_in(self) -> bool:
        """Say whether an open jig was swept and still is in the curve."""
        if self.floor_db is None:
            return False
        with np.errstate(invalid="ignore"):
            apart = np.abs(20 * np.log10(np.abs(1 + self.z_ohm / 100)) - self.rejection_db)
        known = apart[np.isfinite(apart)]
        return bool(known.size == 0 or known.max() < TAKEN_OUT_DB)


@dataclass(frozen=True)
class CurveDifference:
    """outlier: whether the curve leaves the range, and from where to where. causes: as named.

    likelihoods: the posterior itself; none while the curve is within the range.
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
    """Return explain how `own` differs from its design; None where too little is published or swept to say.

    mixes: the published tables by name, that of the recipe's own mix under `made.mix`. spreads: how far
    builds spread, as learned; usual ones by default.
    """
    judged = design.known & np.isfinite(own.z_ohm) & (np.abs(np.nan_to_num(own.z_ohm)) > 0)
    if design.devices < FEWEST_DEVICES or np.count_nonzero(judged) < FEWEST_POINTS:
        return None
    left = design.leaves(np.abs(own.z_ohm), judged)
    if not left.any():
        return CurveDifference(False, None, None, ())
    used = winding_references.thin_points(judged)
    reference = winding_references.build_design_reference(
        design, used, made, mixes, spreads or BuildSpreads()
    )
    hypotheses = change_hypotheses.list_hypotheses(reference, _jig_s(own, used))
    posterior = change_posterior.weigh_hypotheses(
        hypotheses, reference.freq_hz, own.z_ohm[used], reference.weight
    )
    from_hz, to_hz = (float(design.freq_hz[left][end]) for end in (0, -1))
    floor_db = None if own.floor_db is None else float(np.nanmin(own.floor_db[left]))
    seen = DiagnosedCurve(
        reference, own.z_ohm[used], "the median", from_hz, to_hz, own.floor_db is not None, floor_db
    )
    causes = named_causes.list_named_causes(seen, posterior)
    return CurveDifference(True, from_hz, to_hz, causes, named_causes.list_likelihoods(posterior))


def _jig_s(own: OwnCurve, used: Bools) -> Floats | None:
    """Find the size of the open jig's admittance where it still is in the curve: |1 + Z/100| is its floor."""
    if own.floor_db is None or not own.jig_left_in or not np.isfinite(own.floor_db[used]).all():
        return None
    found: Floats = 0.01 / 10 ** (own.floor_db[used] / 20)
    return found
