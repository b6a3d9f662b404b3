"""The answer that the first page gives before anybody asks: best-proven designs over the common bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs.presenters import summarise_evidence
from measurements.pages.layout import figures
from measurements.pages.predictions.presenters import present_chance
from measurements.selectors.designs import designs
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.predictions import proposals
from measurements.selectors.predictions.proposals import WindingRequest
from measurements.selectors.reference import reference
from measurements.verdict.judged_kinds import COMMON_MODE, INSERTION_LOSS

COMMON_BANDS = ("80m", "40m", "20m", "15m", "10m")
MOST_ROWS, MOST_RATIO_ROWS, LEAST_ROWS = 6, 4, 3  # below the least, prediction fills up
NOT_ENOUGH = "not_enough_devices"


@dataclass(frozen=True)
class GridCell:
    """said: a badge with shape and word. figure: in `unit`, a dash where nothing may be shown."""

    band: str
    said: Any
    word: str
    figure: str
    unit: str = "dB"


@dataclass(frozen=True)
class GridRow:
    """key: of a design with evidence; empty: a prediction. address: of its page."""

    key: str
    title: str
    address: str
    cells: tuple[GridCell, ...]


@dataclass(frozen=True)
class AnswerGrid:
    """bands: the columns. proven: what is judged by rejection; ratio: by loss; predicted: the rows, apart."""

    bands: tuple[str, ...]
    proven: tuple[GridRow, ...]
    ratio: tuple[GridRow, ...]
    predicted: tuple[GridRow, ...]


def build_answer_grid(viewer: Viewer) -> AnswerGrid:
    """Build the grid; where evidence of fewer than three designs is public, prediction answers below it."""
    known = {row.band for row in reference.list_bands()}
    bands = tuple(band for band in COMMON_BANDS if band in known)
    proven = _list_proven(viewer, bands, COMMON_MODE, MOST_ROWS)
    ratio = _list_proven(viewer, bands, INSERTION_LOSS, MOST_RATIO_ROWS)
    predicted = _list_predicted(viewer, bands) if len(proven) < LEAST_ROWS else ()
    return AnswerGrid(bands, proven, ratio, predicted)


def _list_proven(viewer: Viewer, bands: tuple[str, ...], kind: str, most: int) -> tuple[GridRow, ...]:
    """List the best designs that are judged by this kind first and have a verdict on these bands."""
    filters = DesignFilters(judged_first=kind)
    listed = designs.list_designs(viewer, filters=filters, kind=kind, limit=most).results
    rows = (_present_design(each, bands) for each in listed)
    return tuple(row for row in rows if row is not None)


def _present_design(row: DesignRow, bands: tuple[str, ...]) -> GridRow | None:
    """Return a row, or None for a design without a verdict on these bands."""
    evidence = {each["band"]: each for each in row.evidence}
    if all(evidence[band]["verdict"] == NOT_ENOUGH for band in bands):
        return None
    cells = []
    for band in bands:
        summary = summarise_evidence(evidence[band])
        unit = summary.words.unit.strip()
        cells.append(GridCell(band, summary.said, summary.said.short, summary.median, unit))
    return GridRow(row.key, row.title, "", tuple(cells))


def _list_predicted(viewer: Viewer, bands: tuple[str, ...]) -> tuple[GridRow, ...]:
    wish = WindingRequest(
        bands=bands,
        benchmark_db=None,
        ratio="1:1",
        style="coax",
        conductor="other",
        split=False,
        mixes=(),
        parts=(),
        stacked=2,
    )
    try:
        found = proposals.find_proposals(viewer, wish, most=LEAST_ROWS)
    except BenchnightError as error:
        if error.code == "predict.no_band":  # a band plan without any of the common bands
            return ()
        raise
    rows = []
    for each in found.proposals:
        cells = []
        for band in each.bands:
            said = present_chance(band.chance)
            median = figures.format_number(band.rejection_db["median"], 0)
            cells.append(GridCell(band.band, said, said.said, median))
        more = "".join(f"&band={band}" for band in bands)
        address = f"?part={each.part}&stacked={each.stacked}&turns={each.turns}&style=coax{more}"
        rows.append(GridRow("", each.title, address, tuple(cells)))
    return tuple(rows)
