"""A checked sweep beside released evidence: band by band, its own figure and the medians of designs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.pages.designs.presenters import EvidenceSummary, summarise_evidence
from measurements.pages.layout import figures
from measurements.selectors.designs import designs, similar_designs
from measurements.selectors.designs.rows import DesignRow
from measurements.services.designs.build_phrases import Phrase
from measurements.services.designs.designs import read_build

MOST_DESIGNS = 3
KIND = "common_mode"


@dataclass(frozen=True)
class ComparedSweep:
    """designs: up to three. rows: (band, own figure, one summary a design). phrase: the build as read.

    found: whether the first design is the build that was typed.
    """

    designs: tuple[DesignRow, ...]
    rows: tuple[tuple[str, str, tuple[EvidenceSummary, ...]], ...]
    phrase: Phrase | None
    found: bool


def compare_with_designs(viewer: Viewer, result: dict[str, Any], build: str) -> ComparedSweep | None:
    """Set a common-mode result beside the build's own design, or else beside the best-proven ones.

    None for other kinds, and where no design is to be compared with.
    """
    if result["kind"] != KIND:
        return None
    phrase = read_build(build) if build.strip() else None
    keys = _list_same_designs(phrase)
    rows = designs.list_designs_by_key(viewer, keys, kind=KIND) if keys else ()
    if not rows:
        best = designs.list_designs(viewer, kind=KIND, limit=MOST_DESIGNS).results
        rows = tuple(
            row for row in best if any(each["rejection_db"]["median"] is not None for each in row.evidence)
        )
    if not rows and phrase is None:
        return None
    return ComparedSweep(rows, _list_rows(result, rows), phrase, bool(keys))


def _list_same_designs(phrase: Phrase | None) -> list[str]:
    if phrase is None:
        return []
    matches = similar_designs.list_similar_designs(phrase.recipe)
    return [match.key for match in matches if not match.differs][:MOST_DESIGNS]


def _list_rows(
    result: dict[str, Any], rows: tuple[DesignRow, ...]
) -> tuple[tuple[str, str, tuple[EvidenceSummary, ...]], ...]:
    """Return the bands that the sweep covers and on which a design shows a figure."""
    own = {band["band"]: band for band in result["bands"] if band.get("rejection_db")}
    found = []
    for at, evidence in enumerate(rows[0].evidence if rows else ()):
        summaries = tuple(summarise_evidence(row.evidence[at]) for row in rows)
        shown = any(row.evidence[at]["rejection_db"]["median"] is not None for row in rows)
        worst = own.get(evidence["band"], {}).get("rejection_db", {}).get("worst")
        if shown and worst is not None:
            found.append((evidence["band"], figures.format_number(worst), summaries))
    return tuple(found)
