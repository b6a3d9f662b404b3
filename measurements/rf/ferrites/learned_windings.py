"""What is believed of mixes and windings: means, how sure they are, and how far builds spread.

The same object before any evidence (`untaught`: the published tables and wide priors) and after it
(`learning.learn`). It is what a release keeps, as plain JSON.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from measurements.rf.ferrites import winding_terms
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.ferrites.winding_terms import KNOTS_HZ, LAW_TERMS
from measurements.rf.sweeps.sweep import Complexes, Floats

JSON_FORM = 1  # of the JSON: another form is learnt again, not read


@dataclass(frozen=True)
class BuildSpreads:
    """Standard deviations of natural logarithms. Priors: common practice and own estimates, no source.

    device, design: (of mu, of the capacitance) from device to device of a design, and of a design against
    the law. misfit: what is left over beyond both, of a device and of a design.
    """

    device: tuple[float, float] = (0.08, 0.18)
    design: tuple[float, float] = (0.05, 0.25)
    misfit_device: float = 0.04
    misfit_design: float = 0.05

    @property
    def misfit(self) -> float:
        return float(np.hypot(self.misfit_device, self.misfit_design))


@dataclass(frozen=True)
class DesignShifts:
    """What a design's own evidence says beyond mix and law: shifts of ln mu and ln C, and how sure.

    mean: (2,); covariance: (2, 2), given the means of all the rest.
    """

    wound: WindingModel
    devices: int
    mean: Floats
    covariance: Floats


@dataclass(frozen=True)
class MixEvidence:
    """How much evidence stands behind a mix, and over which frequencies (None: none)."""

    designs: int = 0
    devices: int = 0
    from_hz: float | None = None
    to_hz: float | None = None


@dataclass(frozen=True)
class LearnedWindings:
    """mean (P,) and covariance (P, P) of all coefficients: per mix the correction at the knots, then the law.

    mixes: in the order of the coefficients. heard: per mix. designs: by key, those with evidence.
    """

    mixes: tuple[str, ...]
    mean: Floats
    covariance: Floats
    spreads: BuildSpreads = BuildSpreads()
    heard: Mapping[str, MixEvidence] = field(default_factory=dict)
    designs: Mapping[str, DesignShifts] = field(default_factory=dict)

    def places(self, mix: str) -> list[int]:
        """Return which coefficients a winding on this mix depends on: the mix's own, then the law's."""
        each = 2 * KNOTS_HZ.size
        first = self.mixes.index(mix) * each
        law = len(self.mixes) * each
        return [*range(first, first + each), *range(law, law + len(LAW_TERMS))]

    def of(self, mix: str) -> tuple[Floats, Floats]:
        """Return mean (2K+L,) and covariance of these."""
        places = self.places(mix)
        return self.mean[places], self.covariance[np.ix_(places, places)]


def build_prior_windings(mixes: Iterable[str]) -> LearnedWindings:
    """Return before any evidence: the tables as they are, the law at its prior, both as unsure as their
    priors.
    """
    names = tuple(sorted(mixes))
    each = 2 * KNOTS_HZ.size
    size = len(names) * each + len(LAW_TERMS)
    mean, covariance = np.zeros(size), np.zeros((size, size))
    for index in range(len(names)):
        block = slice(index * each, (index + 1) * each)
        covariance[block, block] = winding_terms.build_correction_prior()
    mean[-len(LAW_TERMS) :], covariance[-len(LAW_TERMS) :, -len(LAW_TERMS) :] = (
        winding_terms.build_law_prior()
    )
    return LearnedWindings(names, mean, covariance)


def log_mu_correction(own: Floats, freq_hz: Floats) -> Complexes:
    """Return ln of mu over the table's at `freq_hz` (F,), from coefficients (..., 2K+L); answers (..., F)."""
    count = KNOTS_HZ.size
    at_knots = own[..., :count] + 1j * own[..., count : 2 * count]
    return np.asarray(at_knots @ winding_terms.compute_knot_shares(freq_hz).T, dtype=np.complex128)


def log_stray_f(own: Floats, wound: WindingModel) -> Floats:
    """Return ln of one line's capacitance by the law, from coefficients (..., 2K+L); answers (...)."""
    found: Floats = own[..., 2 * KNOTS_HZ.size :] @ winding_terms.build_law_row(wound)
    return found


def format_learned_windings(learned: LearnedWindings) -> dict[str, Any]:
    """Return plain JSON of it; covariances as their lower half."""
    low = np.tril_indices(learned.mean.size)
    return {
        "form": JSON_FORM,
        "mixes": list(learned.mixes),
        "mean": _round_to_ten_digits(learned.mean),
        "covariance": _round_to_ten_digits(learned.covariance[low]),
        "spreads": vars(learned.spreads),
        "heard": {mix: vars(heard) for mix, heard in learned.heard.items()},
        "designs": {
            key: {
                "wound": vars(own.wound),
                "devices": own.devices,
                "mean": _round_to_ten_digits(own.mean),
                "covariance": _round_to_ten_digits(own.covariance.ravel()),
            }
            for key, own in learned.designs.items()
        },
    }


def parse_learned_windings(figures: Mapping[str, Any]) -> LearnedWindings | None:
    """Return the object again; None for another form of it."""
    if figures.get("form") != JSON_FORM:
        return None
    mean = np.array(figures["mean"])
    lower = np.zeros((mean.size, mean.size))
    lower[np.tril_indices(mean.size)] = figures["covariance"]
    return LearnedWindings(
        mixes=tuple(figures["mixes"]),
        mean=mean,
        covariance=lower + np.tril(lower, -1).T,
        spreads=_spreads(figures["spreads"]),
        heard={mix: MixEvidence(**heard) for mix, heard in figures["heard"].items()},
        designs={
            key: DesignShifts(
                WindingModel(**own["wound"]),
                own["devices"],
                np.array(own["mean"]),
                np.array(own["covariance"]).reshape(2, 2),
            )
            for key, own in figures["designs"].items()
        },
    )


def _spreads(given: Mapping[str, Any]) -> BuildSpreads:
    pairs = {name: (given[name][0], given[name][1]) for name in ("device", "design")}
    return BuildSpreads(**pairs, misfit_device=given["misfit_device"], misfit_design=given["misfit_design"])


def _round_to_ten_digits(values: Floats) -> list[float]:
    """Return ten significant digits: what is left out is far below what is not known."""
    return [float(f"{value:.10g}") for value in values]
