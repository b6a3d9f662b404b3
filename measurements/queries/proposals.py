"""What should I wind? Proposals for a wish, ranked by the chance to meet the benchmark on all its bands."""

from __future__ import annotations

from measurements.disclosure.circles import Viewer
from measurements.models import Design
from measurements.queries import believed, winding_cautions, winding_words, wishes
from measurements.queries.believed import Believed
from measurements.queries.rows_of_predictions import BandChanceRow, ProposalRow, ProposalsRow
from measurements.queries.wishes import Asked, WindingWish
from measurements.rf import proposal, proposing
from measurements.rf.proposal import BandChance, Proposal

MOST = 12


def search(viewer: Viewer, given: WindingWish, *, most: int = MOST) -> ProposalsRow:
    """Every core on hand times every number of turns that fits; the best of each core, likeliest first.

    A fixed number of queries, whatever the drawer. Raises BenchnightError naming the field at fault.
    """
    known = believed.of(viewer)
    asked = wishes.understood(given, known)
    found = proposing.search(known.model, known.tables, asked.cores, asked.wish, most)
    keys = {key for each in found for key in known.nearest(each.wound)}
    titles = dict(Design.objects.filter(key__in=keys).values_list("key", "title"))
    return ProposalsRow(
        proposals=tuple(_row(known, asked, each, titles) for each in found),
        passed_over=asked.passed_over,
        bands=tuple(band.name for band in asked.wish.bands),
        benchmark_db=asked.wish.benchmark_db,
        release=known.release,
        cautions=winding_cautions.of_mixes(each.core.mix for each in found),
        tried=sum(_tried(core, asked) for core in asked.cores) * len(asked.wish.stacks),
    )


def _tried(core: proposal.CoreOnHand, asked: Asked) -> int:
    fitting = proposal.turns_that_fit(core, asked.wish)
    return min(fitting, 1) if asked.wish.style == "beads_on_coax" else fitting


def _row(known: Believed, asked: Asked, each: Proposal, titles: dict[str, str]) -> ProposalRow:
    bands = tuple(band_row(band) for band in each.bands)
    turns = each.wound.turns
    return ProposalRow(
        title=_title(asked, each),
        recipe=wishes.recipe_of(asked, each.core.name, each.count, turns),
        part=each.core.name,
        mix=each.core.mix,
        stacked=each.count,
        cores_in_all=each.count * each.wound.lines,
        turns=turns,
        turns_from=each.turns_alike[0],
        turns_to=each.turns_alike[1],
        turns_that_fit=proposal.turns_that_fit(each.core, asked.wish),
        wire_mm=asked.wire_mm,
        wire_assumed=asked.wire_assumed,
        chance=round(each.chance, 2),
        bands=bands,
        why=winding_words.why(bands, asked.wish.benchmark_db),
        built=each.built is not None,
        near=known.near_rows(each.wound, titles),
        rests_on=known.rests_on(each.core.mix),
    )


def band_row(band: BandChance) -> BandChanceRow:
    """A band's chance with its figures rounded to 0.1 dB: draws tell no finer."""
    figures = {"p10": band.low_db, "median": band.median_db, "p90": band.high_db}
    rounded: dict[str, float | None] = {name: round(value, 1) for name, value in figures.items()}
    return BandChanceRow(band.band, round(band.chance, 2), rounded, band.limit)


def _title(asked: Asked, each: Proposal) -> str:
    """Such as `12 turns on 2 stacked 2631803802 (mix 31)`, or `30 beads 2643625002 on the cable`."""
    lines = f", on {each.wound.lines} such cores or stacks" if each.wound.lines > 1 else ""
    if asked.wish.style == "beads_on_coax":
        return f"{each.count} beads {each.core.name} (mix {each.core.mix}) on the cable{lines}"
    turns = f"{each.wound.turns} turn{'s' if each.wound.turns != 1 else ''}"
    stack = f"{each.count} stacked " if each.count > 1 else ""
    return f"{turns} on {stack}{each.core.name} (mix {each.core.mix}){lines}"
