"""Loss and match of 4:1, 9:1, 49:1 and other devices: one winding, or the best with what is in the drawer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Core
from measurements.rf.bands import Band
from measurements.rf.ferrites import ratio_prediction, ratio_proposals
from measurements.rf.ferrites.ratio_prediction import LOSS_LIMIT_DB, SWR_LIMIT, Interval, RatioBand
from measurements.rf.ferrites.ratio_proposals import CAPACITORS_F, RatioGoal, RatioProposal
from measurements.rf.ferrites.ratio_windings import Principle, RatioWinding
from measurements.rf.ferrites.winding_proposals import AvailableCore
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.selectors.predictions import explanations, prediction_basis, proposals
from measurements.selectors.predictions.prediction_basis import PredictionBasis
from measurements.selectors.predictions.proposals import STACKS
from measurements.selectors.predictions.ratio_rows import (
    Percentiles,
    RatioBandRow,
    RatioListRow,
    RatioProposalRow,
)
from measurements.selectors.predictions.rows import CautionRow

MOST_PROPOSALS = 8
MOST_TURNS, MOST_STACKED = 60, 8
LEAST_RATIO, MOST_RATIO = 1.5, 100
MOST_CAPACITOR_F = 1e-9
STYLES_BY_PRINCIPLE = {
    "voltage": ("single", "bifilar", "twisted_pair", "trifilar", "parallel_wires"),
    "current": ("coax", "bifilar", "twisted_pair", "parallel_wires"),
}
CapacitorChoice = Literal["none", "best"]
NO_EVIDENCE = (
    "Permeability comes from the makers' tables and from what the group's chokes taught. Leakage, lines, "
    "leads and copper are assumed within a wide spread; no measured ratio device of this group has "
    "corrected them yet. Eight in ten of the devices that we simulated with this spread lie in the "
    "intervals; how many built ones do is not known."
)


@dataclass(frozen=True)
class RatioRequest:
    """What is to be wound. parts, mixes: what is in the drawer; empty: the whole catalogue.

    turns: of the unbalanced side; with it and one part, that winding alone is predicted, on `stacked` cores.
    far_turns: of a voltage device, where they are not the nearest whole number. capacitor_f: across the
    unbalanced
    side; None with `best` lets the capacitor be chosen.
    """

    bands: tuple[str, ...]
    ratio: str
    principle: str = "voltage"
    style: str = "single"
    conductor: str = "other"
    mixes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    stacked: int = 2
    turns: int | None = None
    far_turns: int | None = None
    capacitor: CapacitorChoice = "none"
    capacitor_f: float | None = None
    loss_limit_db: float = LOSS_LIMIT_DB
    swr_limit: float = SWR_LIMIT


def find_ratio_proposals(viewer: Viewer, given: RatioRequest, *, most: int = MOST_PROPOSALS) -> RatioListRow:
    """Predict the winding of the request, or propose the best cores, turns and capacitors.

    Raises BenchnightError naming the field at fault.
    """
    known = prediction_basis.get_prediction_basis(viewer)
    goal = _build_goal(given)
    cores, passed_over = _find_cores(given, known, goal)
    if given.turns is None:
        ratio_proposals.check_style(goal)
        found = ratio_proposals.propose_ratio_windings(known.model, known.tables, cores, goal, most)
    else:
        found = [_predict_one(known, given, goal, cores, passed_over)]
    return RatioListRow(
        proposals=tuple(_build_row(each, goal) for each in found),
        passed_over=passed_over,
        bands=tuple(band.name for band in goal.bands),
        ratio=format_ratio(goal.ratio),
        principle=goal.principle,
        loss_limit_db=goal.loss_limit_db,
        swr_limit=goal.swr_limit,
        release=known.release,
        rests_on=NO_EVIDENCE,
        cautions=_list_cautions(goal, {each.core.mix for each in found}),
    )


def _build_goal(given: RatioRequest) -> RatioGoal:
    bands = proposals.find_bands(given.bands)
    if not bands:
        raise BenchnightError("predict.no_band", "Choose at least one band.", field="band")
    if given.principle not in get_args(Principle):
        raise BenchnightError("predict.principle", "Choose voltage or current.", field="principle")
    if given.style not in STYLES_BY_PRINCIPLE[given.principle]:
        allowed = ", ".join(STYLES_BY_PRINCIPLE[given.principle]).replace("_", " ")
        raise BenchnightError(
            "predict.style", f"A {given.principle} device is wound as one of: {allowed}.", field="style"
        )
    ratio = parse_ratio(given.ratio)
    if not LEAST_RATIO <= ratio <= MOST_RATIO:
        raise BenchnightError("predict.ratio", "Ratios from 1.5:1 to 100:1 are predicted.", field="ratio")
    wires_mm = prediction_basis.get_wire_diameters_mm()
    if given.conductor not in wires_mm:
        raise BenchnightError(
            "predict.conductor", "Choose a conductor from the list, or 'other'.", field="conductor"
        )
    if not 1 <= given.stacked <= (STACKS[-1] if given.turns is None else MOST_STACKED):
        raise BenchnightError("predict.stacked", "Stack one to four cores.", field="stacked")
    return RatioGoal(
        bands,
        given.principle,  # type: ignore[arg-type]  # one of Principle, checked above
        ratio,
        given.style,
        wires_mm[given.conductor],
        STACKS[: given.stacked],
        _list_capacitors(given),
        given.loss_limit_db,
        given.swr_limit,
    )


def _list_capacitors(given: RatioRequest) -> tuple[float, ...]:
    if given.capacitor_f is not None:
        if not 0 <= given.capacitor_f <= MOST_CAPACITOR_F:
            raise BenchnightError(
                "predict.capacitor", "A capacitor of 0 to 1000 pF is predicted.", field="capacitor_pf"
            )
        return (given.capacitor_f,)
    return CAPACITORS_F if given.capacitor == "best" else (0.0,)


def _find_cores(
    given: RatioRequest, known: PredictionBasis, goal: RatioGoal
) -> tuple[tuple[AvailableCore, ...], tuple[tuple[str, str], ...]]:
    """Find the rings of the drawer, and why some mixes are passed over."""
    rows = Core.objects.filter(shape="toroid").exclude(inner_mm=None).order_by("part")
    if given.parts:
        rows = rows.filter(part__in=given.parts)
    if given.mixes:
        rows = rows.filter(mix__in=given.mixes)
    cores: list[AvailableCore] = []
    why: dict[str, str] = {}
    for part, mix, outer, inner, height in rows.values_list(
        "part", "mix", "outer_mm", "inner_mm", "height_mm"
    ):
        reason = _explain_passing_over(mix, known, goal.bands)
        # one winding is predicted on those of its bands that the table covers
        if reason and (given.turns is None or mix not in known.tables):
            why[mix] = reason
        else:
            cores.append(AvailableCore(part, (outer, inner, height), mix))
    if not cores and not why:
        raise BenchnightError("predict.core", "No ring of the catalogue is chosen by this.", field="core")
    return tuple(cores), tuple(sorted(why.items()))


def _explain_passing_over(mix: str, known: PredictionBasis, bands: tuple[Band, ...]) -> str:
    table = known.tables.get(mix)
    if table is None:
        return "no permeability table of it is at hand, so nothing can be predicted"
    if not all(table.covers(ratio_prediction.list_band_points(band)) for band in bands):
        low, high = table.freq_hz[0] / 1e6, table.freq_hz[-1] / 1e6
        return f"its table reaches from {low:.3g} to {high:.3g} MHz only, short of the bands asked for"
    return ""


def _predict_one(
    known: PredictionBasis,
    given: RatioRequest,
    goal: RatioGoal,
    cores: tuple[AvailableCore, ...],
    passed_over: tuple[tuple[str, str], ...],
) -> RatioProposal:
    if len(given.parts) != 1 or not (cores or passed_over):
        raise BenchnightError(
            "predict.core", "Choose one ring to predict its turns, or leave the turns out.", field="core"
        )
    if not cores:
        raise BenchnightError("predict.mix", f"Mix {passed_over[0][0]}: {passed_over[0][1]}.", field="core")
    turns, far_turns = given.turns or 0, given.far_turns or 0
    if not 1 <= turns <= MOST_TURNS or not 0 <= far_turns <= MOST_TURNS:
        raise BenchnightError("predict.turns", f"Count 1 to {MOST_TURNS} turns.", field="turns")
    core = cores[0]
    capacitor_f = goal.capacitors_f[0] if len(goal.capacitors_f) == 1 else None
    tried = [
        RatioWinding(
            goal.principle, goal.ratio, core.mix, core.size_mm, given.stacked, turns, goal.style,
            goal.wire_mm,
            each, far_turns,
        )
        for each in (goal.capacitors_f if capacitor_f is None else (capacitor_f,))
    ]  # fmt: skip
    judged = [_judge_one(known, core, wound, goal) for wound in tried]
    return min(judged, key=lambda each: (-each.chance, each.worst))


def _judge_one(
    known: PredictionBasis, core: AvailableCore, wound: RatioWinding, goal: RatioGoal
) -> RatioProposal:
    bands = ratio_prediction.predict_bands(
        known.model,
        known.tables[core.mix],
        wound,
        goal.bands,
        loss_limit_db=goal.loss_limit_db,
        swr_limit=goal.swr_limit,
    )
    losses = [band.loss_db.median for band in bands if band.loss_db is not None]
    return RatioProposal(core, wound, bands, max(losses, default=0.0))


def _build_row(each: RatioProposal, goal: RatioGoal) -> RatioProposalRow:
    wound = each.wound
    covered = all(band.chance is not None for band in each.bands)
    return RatioProposalRow(
        title=_write_title(each),
        part=each.core.name,
        mix=each.core.mix,
        stacked=wound.stacked,
        cores_in_all=wound.cores_in_all,
        near_turns=wound.near_turns,
        far_turns=wound.far_turns,
        wound_ratio=round(wound.wound_ratio, 2),
        compensation_f=wound.compensation_f,
        wire_m=round(wound.wire_length_m, 2),
        fits=wound.near_turns <= ratio_proposals.count_fitting_near_turns(each.core, goal),
        bands=tuple(_build_band(band) for band in each.bands),
        chance=round(each.chance, 2) if covered else None,
    )


def _write_title(each: RatioProposal) -> str:
    """Write such as `3:21 turns on 2 stacked 5943003801 (mix 43)`."""
    wound = each.wound
    stack = f"{wound.stacked} stacked " if wound.stacked > 1 else ""
    core = f"{stack}{each.core.name} (mix {each.core.mix})"
    if wound.principle == "current":
        return f"{wound.lines} lines of {wound.near_turns} turns, each on {core}"
    return f"{wound.near_turns}:{wound.far_turns} turns on {core}"


def _build_band(band: RatioBand) -> RatioBandRow:
    return RatioBandRow(
        band.band,
        _round(band.loss_db, 2),
        _round(band.swr, 2),
        _round(band.dissipative_db, 2),
        _round(band.heat_w, 1),
        None if band.chance is None else round(band.chance, 2),
        band.why_not,
    )


def _round(given: Interval | None, digits: int) -> Percentiles:
    if given is None:
        return {"p10": None, "median": None, "p90": None}
    return {
        "p10": round(given.low, digits),
        "median": round(given.median, digits),
        "p90": round(given.high, digits),
    }


def _list_cautions(goal: RatioGoal, mixes: set[str]) -> tuple[CautionRow, ...]:
    """List the cautions; peak voltage is sqrt(2 P R) of 100 W across the far side."""
    peak_volts = (2 * 100 * 50 * float(goal.ratio)) ** 0.5
    volts = CautionRow(
        "High voltage at the far side",
        f"100 W are {peak_volts:.0f} V peak across {50 * float(goal.ratio):.0f} ohm, and more with any "
        "mismatch: RF burns. Keep the far terminals out of reach.",
    )
    power, *others = explanations.list_cautions(mixes)
    no_power = CautionRow(
        power.title,
        "Loss, SWR and heat are computed for small signals: no power rating follows from them.",
    )
    return (no_power, volts, *others)
