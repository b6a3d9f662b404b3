"""Puts designs in order by what their reader is shown of them, each by the kind of test of the question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure import evidence_view, rounding
from measurements.disclosure.viewers import get_circle
from measurements.models import group_settings
from measurements.selectors.designs.evidence_questions import EvidenceQuery
from measurements.selectors.evidence import evidence_table
from measurements.selectors.evidence.evidence_table import EvidenceTable
from measurements.verdict import decision_rule
from measurements.verdict.design_verdicts import DesignVerdicts
from measurements.verdict.judged_kinds import EVIDENCE_METRICS

_VERDICT_NAMES = np.array(decision_rule.VERDICTS)
_UNANSWERED = len(decision_rule.VERDICTS)  # another limit, too few persons for a verdict against it


@dataclass(frozen=True)
class Listed:
    """A design to put in order: its row number, its key, and the kind of test that answers for it."""

    pk: int
    key: str
    kind: str


def rank_listed(
    listed: Sequence[Listed],
    tables: Mapping[str, EvidenceTable],
    question: EvidenceQuery,
    order: str,
    verdict: str | None,
) -> list[int]:
    """Return the row numbers of `listed` (given by title), filtered by verdict and put in order."""
    standing = _SortFigures(listed, tables, question)
    chosen = np.arange(len(listed))
    if verdict:
        chosen = chosen[standing.code[chosen] == decision_rule.VERDICTS.index(verdict)]  # type: ignore[arg-type]
    by_figure = (-standing.margin,)
    sort_keys = {
        "verdict": (-standing.margin, -standing.chance, -standing.met, standing.code),
        "rejection": by_figure,
        "loss": by_figure,
        "swr": by_figure,
        "devices": (-standing.devices,),
        "title": (np.zeros(len(listed)),),
    }[order]
    places = np.lexsort(tuple(column[chosen] for column in sort_keys)) if len(chosen) else []
    return [listed[chosen[place]].pk for place in places]


def get_verdicts(table: EvidenceTable, bands: tuple[str, ...], question: EvidenceQuery) -> DesignVerdicts:
    """Get the verdicts of all designs of a table on bands of the question."""
    return evidence_table.get_verdicts(
        table,
        bands,
        question.limits[table.kind],
        house_limit=question.house_limits[table.kind],
        least=question.get_least_contributors(),
        detail=group_settings.get_thresholds().detail_min_contributors,
    )


class _SortFigures:
    """What lists are ordered by, as the viewer sees it: NaN (last) where a figure is not shown.

    code, met, chance, margin, devices: one number per design given. A code of `_UNANSWERED` is no verdict.
    margin: how far the shown median is on the good side of the limit, in units of its metric, so that designs
    of several kinds have one order.
    """

    def __init__(
        self, listed: Sequence[Listed], tables: Mapping[str, EvidenceTable], question: EvidenceQuery
    ) -> None:
        count = len(listed)
        self.code: NDArray[np.float64] = np.full(count, float(decision_rule.NOT_ENOUGH))
        self.met: NDArray[np.float64] = np.zeros(count)
        self.chance: NDArray[np.float64] = np.full(count, np.nan)
        self.margin: NDArray[np.float64] = np.full(count, np.nan)
        self.devices: NDArray[np.float64] = np.zeros(count)
        for kind, table in tables.items():
            index = np.array(
                [table.index_of.get(each.key, -1) if each.kind == kind else -1 for each in listed],
                dtype=np.int64,
            )
            there = index >= 0
            if there.any():
                self._fill(there, index[there], table, question)

    def _fill(
        self,
        there: NDArray[np.bool_],
        index: NDArray[np.int64],
        table: EvidenceTable,
        question: EvidenceQuery,
    ) -> None:
        if not question.joint_bands:
            self._over_all_bands(there, index, table, question)
            return
        verdicts = get_verdicts(table, question.joint_bands, question)
        self.code[there] = _list_shown_codes(verdicts, table.kind, question)[index]
        self._figures(there, index, verdicts, table.kind, question)

    def _figures(
        self,
        there: NDArray[np.bool_],
        index: NDArray[np.int64],
        verdicts: DesignVerdicts,
        kind: str,
        question: EvidenceQuery,
    ) -> None:
        circle, limits = get_circle(question.viewer), group_settings.get_thresholds()
        metric = EVIDENCE_METRICS[kind]
        shown = verdicts.code[index] != decision_rule.NOT_ENOUGH
        persons = verdicts.contributors[index]
        devices = np.where(shown, verdicts.devices[index], 0)
        self.chance[there] = evidence_view.round_chances(
            verdicts.chance[index],
            _VERDICT_NAMES[verdicts.code[index]],
            persons,
            circle=circle,
            thresholds=limits,
            at_house_benchmark=question.is_at_house_limit(kind),
        )
        detailed = evidence_view.has_detail(persons, limits)
        median = rounding.round_figures(verdicts.median[index], metric.name, detailed)
        limit = metric.convert_to_units(question.limits[kind])
        self.margin[there] = metric.convert_to_units(median) - limit
        self.devices[there] = rounding.coarsen_counts(devices) if circle == "public" else devices

    def _over_all_bands(
        self,
        there: NDArray[np.bool_],
        index: NDArray[np.int64],
        table: EvidenceTable,
        question: EvidenceQuery,
    ) -> None:
        """Rank by the best verdict on any band, the bands typically met, the mean of the medians."""
        best = np.full(len(index), _UNANSWERED)
        met = np.zeros(len(index))
        margins = []
        for band in question.bands:
            verdicts = get_verdicts(table, (band,), question)
            codes = _list_shown_codes(verdicts, table.kind, question)[index]
            best = np.minimum(best, codes)
            met += codes == decision_rule.MEETS
            before = self.devices[there]
            self._figures(there, index, verdicts, table.kind, question)
            self.devices[there] = np.maximum(before, self.devices[there])
            margins.append(self.margin[there])
        self.code[there], self.met[there] = best, met
        self.chance[there] = np.nan
        known = ~np.isnan(margins)
        total = np.where(known, margins, 0).sum(axis=0)
        self.margin[there] = np.where(known.any(axis=0), total / np.maximum(known.sum(axis=0), 1), np.nan)


def _list_shown_codes(verdicts: DesignVerdicts, kind: str, question: EvidenceQuery) -> NDArray[np.int64]:
    """List the codes of all designs; `_UNANSWERED` where another limit than the group's has no verdict.

    Lists are filtered and ordered by these: the exact codes would give away what the rows hide.
    """
    codes = verdicts.code.astype(np.int64)
    if question.is_at_house_limit(kind):
        return codes
    detailed = evidence_view.has_detail(verdicts.contributors, group_settings.get_thresholds())
    return np.where(detailed | (codes == decision_rule.NOT_ENOUGH), codes, _UNANSWERED)
