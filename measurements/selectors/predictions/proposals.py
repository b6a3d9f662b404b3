"""What should I wind? Proposals for a wish, ranked by the chance to meet the benchmark on all its bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Conductor, Core, Design
from measurements.rf.bands import Band
from measurements.rf.ferrites import core_names, winding_proposals
from measurements.rf.ferrites.core_names import CoreLook
from measurements.rf.ferrites.winding_model import BEADS_STYLE, WINDING_STYLES, count_parallel_lines
from measurements.rf.ferrites.winding_proposals import (
    UNKNOWN_WIRE_MM,
    AvailableCore,
    BandChance,
    WindingGoal,
    WindingProposal,
)
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.selectors.designs import recipe_checks
from measurements.selectors.predictions import explanations, prediction_basis
from measurements.selectors.predictions.prediction_basis import PredictionBasis
from measurements.selectors.predictions.rows import BandChanceRow, ProposalListRow, ProposalRow
from measurements.selectors.reference import reference
from measurements.verdict import decision_rule

# What somebody wants to wind, checked and made into what `rf.ferrites.winding_proposals` takes.

STACKS = (1, 2, 3, 4)

BEADS_TRIED = (5, 10, 15, 20, 30, 40, 50, 60, 80, 100)

MOST_LINES = 4  # a 16:1 current balun; beyond it nobody winds one line on a core each

OTHER_CONDUCTOR = "other"


@dataclass(frozen=True)
class WindingRequest:
    """bands: names; all must be met together. mixes, parts: what is in the drawer; empty: the whole
    catalogue.

    stacked: at most so many cores on top of each other. benchmark_db: None for the group's own.
    """

    bands: tuple[str, ...]
    benchmark_db: float | None = None
    ratio: str = "1:1"
    style: str = "coax"
    conductor: str = OTHER_CONDUCTOR
    split: bool = False
    mixes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    stacked: int = 2


@dataclass(frozen=True)
class CheckedRequest:
    """A wish understood. cores: those on hand with a table; passed_over: (mix, why) of the others."""

    wish: WindingGoal
    cores: tuple[AvailableCore, ...]
    passed_over: tuple[tuple[str, str], ...]
    ratio: str
    conductor: str

    @property
    def wire_assumed(self) -> bool:
        return self.wish.wire_mm is None

    @property
    def wire_mm(self) -> float:
        return UNKNOWN_WIRE_MM if self.wish.wire_mm is None else self.wish.wire_mm


def find_bands(names: tuple[str, ...]) -> tuple[Band, ...]:
    """Return the bands of these names, lowest first. Raises BenchnightError `band.unknown`."""
    known = {row.band: Band(row.band, row.start_hz, row.stop_hz) for row in reference.list_bands()}
    for name in names:
        if name not in known:
            raise BenchnightError(
                "band.unknown",
                f"There is no band {name[:12]!r} here; known: {', '.join(known)}.",
                field="band",
            )
    return tuple(band for name, band in known.items() if name in names)


def resolve_benchmark_db(given: float | None) -> float:
    """Return the benchmark asked for, or the group's. Raises BenchnightError naming `benchmark_db`."""
    return decision_rule.check_benchmark(reference.get_benchmark_db() if given is None else given)


def check_winding_request(given: WindingRequest, believed: PredictionBasis) -> CheckedRequest:
    """Raise BenchnightError naming the field at fault."""
    bands = find_bands(given.bands)
    if not bands:
        raise BenchnightError("predict.no_band", "Choose at least one band.", field="band")
    ratio = format_ratio(parse_ratio(given.ratio))
    lines = count_parallel_lines(ratio)
    if lines is None or lines > MOST_LINES:
        raise BenchnightError(
            "predict.ratio",
            "Rejection is predicted of current baluns and chokes: 1:1, 4:1, 9:1 or 16:1. Another ratio is "
            "wound as a transformer: ask for its loss and match (predict a ratio device).",
            field="ratio",
        )
    if given.style not in WINDING_STYLES:
        raise BenchnightError("predict.style", f"Choose one of: {', '.join(WINDING_STYLES)}.", field="style")
    if given.stacked not in STACKS:
        raise BenchnightError("predict.stacked", "Stack one to four cores.", field="stacked")
    wish = WindingGoal(
        bands=bands,
        benchmark_db=resolve_benchmark_db(given.benchmark_db),
        style=given.style,
        wires=recipe_checks.WIRES_PER_TURN[given.style],
        wire_mm=_find_wire_mm(given.conductor),
        split=given.split and given.style != BEADS_STYLE,
        lines=lines,
        stacks=BEADS_TRIED if given.style == BEADS_STYLE else STACKS[: given.stacked],
    )
    cores, passed_over = _cores_on_hand(given, believed, wish)
    return CheckedRequest(wish, cores, passed_over, ratio, given.conductor)


def _find_wire_mm(conductor: str) -> float | None:
    row = Conductor.objects.filter(name=conductor).values_list("outer_mm").first()
    if row is None:
        raise BenchnightError(
            "predict.conductor", "Choose a conductor from the list, or 'other'.", field="conductor"
        )
    outer_mm: float | None = row[0]
    return outer_mm


def _cores_on_hand(
    given: WindingRequest, believed: PredictionBasis, wish: WindingGoal
) -> tuple[tuple[AvailableCore, ...], tuple[tuple[str, str], ...]]:
    """Return listed rings (for beads on coax: beads) of the drawer, and why some mixes are passed over."""
    shapes = ("bead",) if given.style == BEADS_STYLE else ("toroid",)
    rows = Core.objects.filter(shape__in=shapes).exclude(inner_mm=None).order_by("part")
    _check_known(given)
    if given.parts:
        rows = rows.filter(part__in=given.parts)
    if given.mixes:
        rows = rows.filter(mix__in=given.mixes)
    cores: list[AvailableCore] = []
    why: dict[str, str] = {}
    for part, mix, *size in rows.values_list("part", "mix", "outer_mm", "inner_mm", "height_mm"):
        reason = _exclusion_reason(mix, believed, wish)
        if reason:
            why[mix] = reason
        else:
            cores.append(AvailableCore(part, (size[0], size[1], size[2]), mix))
    return tuple(cores), tuple(sorted(why.items()))


def _exclusion_reason(mix: str, believed: PredictionBasis, wish: WindingGoal) -> str:
    table = believed.tables.get(mix)
    if table is None:
        return "no permeability table of it is at hand, so nothing can be predicted"
    if not table.covers(wish.edges_hz):
        low, high = table.freq_hz[0] / 1e6, table.freq_hz[-1] / 1e6
        return f"its table reaches from {low:.3g} to {high:.3g} MHz only, short of the bands asked for"
    return ""


def _check_known(given: WindingRequest) -> None:
    known = set(Core.objects.filter(part__in=given.parts).values_list("part", flat=True))
    for part in given.parts:
        if part not in known:
            raise BenchnightError("predict.core", f"The catalogue has no part {part[:20]!r}.", field="core")
    mixes = {row.name for row in reference.list_mixes()} if given.mixes else set()
    for mix in given.mixes:
        if mix not in mixes:
            raise BenchnightError("predict.mix", f"There is no mix {mix[:12]!r} here.", field="mix")


def build_recipe(asked: CheckedRequest, part: str, stacked: int, turns: int) -> dict[str, Any]:
    """Return the recipe of a proposal, as `POST designs/` takes it."""
    choke = asked.ratio == "1:1"
    return {
        "purpose": "choke" if choke else "balun",
        "principle": "current",
        "ratio": asked.ratio,
        "cores": [{"part": part, "stacked": stacked} for _ in range(asked.wish.lines)],
        "winding": {
            "turns": turns,
            "style": asked.wish.style,
            "split": asked.wish.split,
            "conductor": asked.conductor,
        },
    }


MOST_PROPOSALS = 12


def find_proposals(viewer: Viewer, given: WindingRequest, *, most: int = MOST_PROPOSALS) -> ProposalListRow:
    """Return every core on hand times every number of turns that fits; the best of each core, likeliest
    first.

    A fixed number of queries, whatever the drawer. Raises BenchnightError naming the field at fault.
    """
    known = prediction_basis.get_prediction_basis(viewer)
    asked = check_winding_request(given, known)
    found = winding_proposals.propose_windings(known.model, known.tables, asked.cores, asked.wish, most)
    keys = {key for each in found for key in known.nearest(each.wound)}
    titles = dict(Design.objects.filter(key__in=keys).values_list("key", "title"))
    return ProposalListRow(
        proposals=tuple(_proposal_row(known, asked, each, titles) for each in found),
        passed_over=asked.passed_over,
        bands=tuple(band.name for band in asked.wish.bands),
        benchmark_db=asked.wish.benchmark_db,
        release=known.release,
        cautions=explanations.list_cautions(each.core.mix for each in found),
        tried=sum(_count_tried(core, asked) for core in asked.cores) * len(asked.wish.stacks),
    )


def _count_tried(core: winding_proposals.AvailableCore, asked: CheckedRequest) -> int:
    fitting = winding_proposals.count_fitting_turns(core, asked.wish)
    return min(fitting, 1) if asked.wish.style == "beads_on_coax" else fitting


def _proposal_row(
    known: PredictionBasis, asked: CheckedRequest, each: WindingProposal, titles: dict[str, str]
) -> ProposalRow:
    bands = tuple(build_band_row(band) for band in each.bands)
    turns = each.wound.turns
    return ProposalRow(
        title=_proposal_title(asked, each),
        recipe=build_recipe(asked, each.core.name, each.count, turns),
        part=each.core.name,
        mix=each.core.mix,
        stacked=each.count,
        cores_in_all=each.count * each.wound.lines,
        turns=turns,
        turns_from=each.turns_alike[0],
        turns_to=each.turns_alike[1],
        turns_that_fit=winding_proposals.count_fitting_turns(each.core, asked.wish),
        wire_mm=asked.wire_mm,
        wire_assumed=asked.wire_assumed,
        chance=round(each.chance, 2),
        bands=bands,
        why=explanations.explain_limits(bands, asked.wish.benchmark_db),
        built=each.built is not None,
        near=known.near_rows(each.wound, titles),
        rests_on=known.rests_on(each.core.mix),
    )


def build_band_row(band: BandChance) -> BandChanceRow:
    """Return a band's chance with its figures rounded to 0.1 dB: draws tell no finer."""
    figures = {"p10": band.low_db, "median": band.median_db, "p90": band.high_db}
    rounded: dict[str, float | None] = {name: round(value, 1) for name, value in figures.items()}
    return BandChanceRow(band.band, round(band.chance, 2), rounded, band.limit)


def _proposal_title(asked: CheckedRequest, each: WindingProposal) -> str:
    """Write such as `12 turns on 2 stacked FT240-31 (61 mm, mix 31)`, or how many beads on the cable."""
    lines = f", on {each.wound.lines} such cores or stacks" if each.wound.lines > 1 else ""
    beads = asked.wish.style == BEADS_STYLE
    shape = "bead" if beads else "toroid"  # `_cores_on_hand` takes nothing else
    core = core_names.title_core(CoreLook(shape, each.core.mix, each.core.size_mm, each.core.name))
    if beads:
        return f"{each.count} × {core} on the cable{lines}"
    turns = f"{each.wound.turns} turn{'s' if each.wound.turns != 1 else ''}"
    stack = f"{each.count} stacked " if each.count > 1 else ""
    return f"{turns} on {stack}{core}{lines}"
