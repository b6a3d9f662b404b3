"""Causes of a ratio device's loss or SWR in words, each with the figures it rests on.

The posterior names a cause or none; this says where the curve differs (low end, high end, everywhere, away
from the
ratio) and by how much. Nothing else infers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from measurements.rf.diagnosis import ratio_posterior
from measurements.rf.diagnosis.ratio_model import UNKNOWNS, RatioChange, RatioModel, RatioSweep
from measurements.rf.diagnosis.ratio_posterior import RatioPosterior, WeighedRatio
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.ratio_windings import RatioWinding
from measurements.rf.flags import format_megahertz
from measurements.rf.sweeps.sweep import Complexes, Floats

Where = Literal["low_end", "high_end", "everywhere", "ratio", "nowhere"]
LEAST_TOLD, MOST_TOLD = 0.05, 6
LEAST_MORE_DB, LEAST_MORE_SWR = 0.2, 0.15  # less than this is no difference to speak of


@dataclass(frozen=True)
class RatioCause:
    """A likely cause. share: of the posterior. size: of the change, in the unit of `unit` (farad, ohm,
    times, turns).

    where: see `ComparedCurves`. own_*, usual_*: the figures of the sweep and of the recipe at its worst
    end.
    """

    code: str
    message: str
    share: float
    where: Where
    size: float | None
    unit: str
    at_hz: float
    own_swr: float
    usual_swr: float
    own_loss_db: float | None
    usual_loss_db: float | None


@dataclass(frozen=True)
class RatioLikelihood:
    """code: of a cause, `as_built` or `none_of_these`. what: in words. share: of all hypotheses, 0 to 1."""

    code: str
    what: str
    share: float


@dataclass(frozen=True)
class RatioDiagnosis:
    """where: the sweep differs from the recipe there. causes: at most one. from_hz, to_hz: what was looked
    at.
    """

    where: Where
    causes: tuple[RatioCause, ...]
    likelihoods: tuple[RatioLikelihood, ...]
    from_hz: float
    to_hz: float


def diagnose_ratio_device(
    wound: RatioWinding, sweep: RatioSweep, tables: Mapping[str, Permeability]
) -> RatioDiagnosis | None:
    """Say why a voltage device loses or mismatches as it does; None where the model does not reach."""
    posterior = ratio_posterior.weigh_ratio_hypotheses(wound, sweep, tables)
    if posterior is None:
        return None
    seen = ComparedCurves.of(wound, posterior.sweep, tables)
    best = posterior.named
    causes = () if best is None else (_build_cause(seen, best, posterior.by_code[best.given.code]),)
    thin = posterior.sweep
    return RatioDiagnosis(
        seen.where, causes, _list_likelihoods(posterior), float(thin.freq_hz[0]), float(thin.freq_hz[-1])
    )


@dataclass(frozen=True)
class ComparedCurves:
    """A sweep beside the recipe's middle device, (F,) each; loss is None where it was not measured."""

    freq_hz: Floats
    own_swr: Floats
    usual_swr: Floats
    own_db: Floats | None
    usual_db: Floats

    @classmethod
    def of(cls, wound: RatioWinding, sweep: RatioSweep, tables: Mapping[str, Permeability]) -> ComparedCurves:
        mu = {wound.mix: tables[wound.mix].at(sweep.freq_hz)}
        s11, loss_db = RatioModel(wound, RatioChange(), mu, sweep).compute(np.zeros((1, UNKNOWNS + 1)))
        return cls(sweep.freq_hz, _swr(sweep.s11), _swr(s11[0]), sweep.loss_db, loss_db[0])

    @property
    def more(self) -> Floats:
        """Return how much worse than the recipe it is (F,): loss where it was measured, in steps of what
        counts.
        """
        by_swr = (self.own_swr - self.usual_swr) / LEAST_MORE_SWR
        return by_swr if self.own_db is None else (self.own_db - self.usual_db) / LEAST_MORE_DB

    @property
    def where(self) -> Where:
        """Say where it is worse: by the lowest and the highest quarter of the points, against the middle
        half.
        """
        quarter = max(self.freq_hz.size // 4, 1)
        low, high = float(np.median(self.more[:quarter])), float(np.median(self.more[-quarter:]))
        middle = float(np.median(self.more[quarter:-quarter]))
        swr_low = float(np.median(self.own_swr[quarter:-quarter] - self.usual_swr[quarter:-quarter]))
        if swr_low > 3 * LEAST_MORE_SWR and (self.own_db is None or middle >= 1):
            return "ratio"
        if max(low, middle, high) < 1:
            return "nowhere"
        if middle >= 1 and min(low, high) >= 0.5 * middle:
            return "everywhere"
        return "low_end" if low >= high else "high_end"

    @property
    def worst(self) -> int:
        return int(np.argmax(self.more))


def _swr(s11: Complexes) -> Floats:
    size = np.minimum(np.abs(s11), 0.999)  # an SWR of 2,000: noise near total reflection has no finite one
    found: Floats = (1 + size) / (1 - size)
    return found


def _list_likelihoods(posterior: RatioPosterior) -> tuple[RatioLikelihood, ...]:
    told = [each for each in posterior.hypotheses if each.share >= LEAST_TOLD][:MOST_TOLD]
    found = [RatioLikelihood(each.given.code, each.given.what, each.share) for each in told]
    if posterior.none_share >= LEAST_TOLD:
        found.append(RatioLikelihood("none_of_these", "none of these", posterior.none_share))
    return tuple(sorted(found, key=lambda each: -each.share))


WHERE_WORDS = {
    "low_end": "It is worse than the recipe at the low end",
    "high_end": "It is worse than the recipe at the high end",
    "everywhere": "It is worse than the recipe at every frequency",
    "ratio": "Its SWR lies away from the ratio in the middle of the sweep",
    "nowhere": "It differs little from the recipe",
}


def _build_cause(seen: ComparedCurves, best: WeighedRatio, share: float) -> RatioCause:
    at = seen.worst
    size, unit, advice = _describe(best)
    own_db = None if seen.own_db is None else float(seen.own_db[at])
    return RatioCause(
        code=best.given.code,
        message=f"{WHERE_WORDS[seen.where]}: {_say_figures(seen, at)} {advice}",
        share=share,
        where=seen.where,
        size=size,
        unit=unit,
        at_hz=float(seen.freq_hz[at]),
        own_swr=float(seen.own_swr[at]),
        usual_swr=float(seen.usual_swr[at]),
        own_loss_db=own_db,
        usual_loss_db=None if own_db is None else float(seen.usual_db[at]),
    )


def _say_figures(seen: ComparedCurves, at: int) -> str:
    said = f"at {format_megahertz(float(f'{seen.freq_hz[at]:.2g}'))} an SWR of {seen.own_swr[at]:.1f}, "
    said += f"where the recipe gives {seen.usual_swr[at]:.1f}"
    if seen.own_db is not None:
        said += f", and a loss of {seen.own_db[at]:.1f} dB, where it gives {seen.usual_db[at]:.1f} dB"
    return f"{said}."


def _describe(best: WeighedRatio) -> tuple[float | None, str, str]:
    """Describe the change: its size, its unit, and a sentence that says what to do."""
    change, size = best.given.change, best.size
    said = best.given.what.split(" in place")[0]
    match best.given.code:
        case "turns_ratio":
            return _float(change.near_turns), "turns", f"It behaves as {said}: count both windings."
        case "turn_count":
            return _float(change.near_turns), "turns", f"It behaves as {said}: count both windings."
        case "core_count":
            return _float(change.stacked), "cores", f"It behaves as {said}: count the cores."
        case "mix":
            return None, "", f"It behaves as {said}: check the core's marking or its catalogue number."
        case "cracked_core":
            return size, "of the path", "It behaves as an air gap in the core: look for a crack."
        case "shunt_loss":
            size = 1 / size
    unit, amount, advice = SIZED_WORDS[best.given.code]
    return size, unit, f"It behaves as if {amount.format(_round(size, unit))} {advice}"


# unit of the size, its words, and the advice
SIZED_WORDS = {
    "stray_capacitance": (
        "farad",
        "{} pF more",
        "lay across the far side: spread its turns, and keep its lead away from the case.",
    ),
    "leakage": (
        "times",
        "the leakage were {} times the usual:",
        "wind the two sides closer together, and shorten the leads.",
    ),
    "connection": ("ohm", "{} ohm", "lay in series at the 50 ohm side: look at joints, plug and wire."),
    "shunt_loss": (
        "ohm",
        "{} ohm",
        "lay across the 50 ohm side: a lossier core, damp, or bare wire on a core that conducts.",
    ),
    "load_resistor": (
        "times",
        "the load resistor had {} times",
        "the stated value: measure it with a meter.",
    ),
}


def _round(size: float, unit: str) -> str:
    """Write two significant digits, picofarads for farads."""
    shown = size * 1e12 if unit == "farad" else size
    return f"{float(f'{shown:.2g}'):g}"


def _float(count: int | None) -> float | None:
    return None if count is None else float(count)
