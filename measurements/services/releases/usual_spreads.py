"""Learns at a release how far builds of a design usually spread: verdicts on few devices rest on it.

It is an aggregate of published votes, so it is learned again only when enough persons joined them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from measurements.models import Cell, Release
from measurements.services.releases import pools
from measurements.services.releases.evidence_rows import PERSON_DTYPE, WORST_DTYPE
from measurements.verdict.contributor_counts import weigh_votes
from measurements.verdict.judged_kinds import EVIDENCE_METRICS
from measurements.verdict.metric import Metric
from measurements.verdict.usual_spread import BandFigures, estimate_usual_spread

LEAST_PERSONS = 3  # of a design whose spread counts
MOST_DESIGNS = 200  # enough to know a spread to some percent; they are taken by their hash, so at random


def learn_usual_spreads(number: int) -> dict[str, Any]:
    """Give the usual spread of each kind at release `number`: learned where its pool was made now, or kept.

    Call after `pools.make_pools`.
    """
    before = Release.objects.filter(number=number - 1).values_list("usual_spreads", flat=True).first() or {}
    found = {}
    for kind, name in pools.USUAL_SPREADS.items():
        if pools.find_newest_release(name) == number:
            spread = estimate_usual_spread(_read_designs(kind))
            found[kind] = {"spread": spread, "learned_in": number}
        else:
            found[kind] = before.get(kind) or {"spread": None, "learned_in": number}
    return found


def get_usual_spread(release: Release, kind: str) -> float | None:
    """Get the usual spread of a kind in a release, units of its metric; None where it is not known."""
    spread: float | None = release.usual_spreads.get(kind, {}).get("spread")
    return spread


def _read_designs(kind: str) -> Iterator[list[BandFigures]]:
    """Read the figures and weights of each design by band, where persons are known."""
    metric = EVIDENCE_METRICS[kind]
    cells = Cell.objects.filter(last_release=None, kind=kind, band="", contributors__gte=LEAST_PERSONS)
    chosen = cells.exclude(persons=b"").order_by("content_sha256")[:MOST_DESIGNS]
    for count, bands, stored, persons in chosen.values_list("contributors", "bands", "worst_db", "persons"):
        worst = np.frombuffer(bytes(stored), WORST_DTYPE).reshape(-1, len(bands)).astype(np.float64)
        person = np.frombuffer(bytes(persons), PERSON_DTYPE).astype(np.int64)
        yield [_weigh_band(metric, column, person, count) for column in worst.T]


def _weigh_band(
    metric: Metric, worst: np.ndarray[Any, np.dtype[np.float64]], person: Any, count: int
) -> BandFigures:
    voting = ~np.isnan(worst)
    weights = weigh_votes(np.zeros(person.size, dtype=np.int64), person, voting, [count])
    return metric.convert_to_units(worst[voting]), weights.weight[voting]
