"""A design in this group and beside it in many: what the pool's release says, band by band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.pages.designs.judged_words import KindWords
from measurements.pages.designs.presenters import EvidenceSummary
from measurements.pages.layout import figures
from measurements.pages.layout.wording import Badge, get_verdict_badge


@dataclass(frozen=True)
class PooledBand:
    """One band of a design in this group and in the pool."""

    band: str
    here: EvidenceSummary
    said: Badge
    chance: str
    median: str
    people: str


@dataclass(frozen=True)
class PooledTable:
    """A design in this group and beside it in many. groups: the most on any band.

    limit: that the pool holds it against, with its unit.
    """

    groups: int
    limit: str
    rows: tuple[PooledBand, ...]


def build_pooled_table(
    bands: Sequence[EvidenceSummary], pooled: Mapping[str, Mapping[str, Any]], words: KindWords
) -> PooledTable | None:
    """Put what many groups found beside this group's evidence; None where the pool says nothing."""
    rows = tuple(
        PooledBand(
            each.band,
            each,
            get_verdict_badge(pooled[each.band]["verdict"]),
            _write_chance(pooled[each.band]["chance"]),
            words.format_figure(pooled[each.band]["median"]),
            pooled[each.band]["contributors"],
        )
        for each in bands
        if each.band in pooled
    )
    if not rows:
        return None
    limit = words.format_limit(next(iter(pooled.values()))["limit"])
    return PooledTable(max(int(own["groups"]) for own in pooled.values()), limit, rows)


def _write_chance(chance: float | None) -> str:
    return figures.NO_VALUE if chance is None else f"{round(chance * 10)} in 10"
