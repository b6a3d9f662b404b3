"""Designs and what the current release says of them: the main look-up of the house.

Everything here comes from released evidence; no member's tests are read. What a viewer may not see is
taken away by `disclosure.evidence_view` before a row is made, and lists are ordered by what is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models.functions import Coalesce
from numpy.typing import NDArray

from measurements.disclosure import evidence_view, rounding
from measurements.disclosure.viewers import Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Design, Device, group_settings
from measurements.models.read_once import read_once
from measurements.selectors import paging
from measurements.selectors.designs.design_filters import DesignFilters, check_order
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence import evidence_table
from measurements.selectors.evidence.evidence_table import EvidenceTable
from measurements.selectors.paging import Page
from measurements.selectors.reference import reference
from measurements.verdict import band_verdict, decision_rule
from measurements.verdict.design_verdicts import DesignVerdicts

_COLUMNS = (
    "key",
    "title",
    "recipe",
    "purpose",
    "principle",
    "ratio",
    "mix",
    "core",
    "core_count",
    "turns",
    "style",
)
_VERDICT_NAMES = np.array(decision_rule.VERDICTS)
_UNANSWERED = len(decision_rule.VERDICTS)  # another benchmark, too few persons for a verdict against it
PUBLIC_STEP_DB = 0.5  # finer steps of the benchmark would give away single figures by trying


@dataclass(frozen=True)
class EvidenceQuery:
    """A question to the evidence: the viewer, the bands, the benchmark."""

    viewer: Viewer
    bands: tuple[str, ...]
    joint_bands: tuple[str, ...]
    benchmark_db: float
    house_benchmark_db: float


def list_designs(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    order: str = "verdict",
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[DesignRow]:
    """Return designs that fit the filters, best supported first, judged jointly over the bands asked.

    Without bands, each row carries all bands of the plan and the order goes by how many are met.
    Raises BenchnightError naming the parameter at fault.
    """
    ranked = rank_designs(viewer, filters=filters, bands=bands, benchmark_db=benchmark_db, order=order)
    return ranked.get_page(cursor, limit)


@dataclass(frozen=True)
class RankedDesigns:
    """Designs in their order, judged once, so that all pages of one reply rest on one release.

    pks: the rows in order.
    """

    pks: tuple[int, ...]
    table: EvidenceTable | None
    question: EvidenceQuery

    def get_page(self, cursor: str | None, limit: int) -> Page[DesignRow]:
        """Read a page. Raises BenchnightError `cursor.invalid`, `limit.out_of_range`."""
        size = paging.check_limit(limit)
        position = paging.decode_cursor(cursor, skip=int) or {"skip": 0}
        end = position["skip"] + size
        rows = _design_rows(list(self.pks[position["skip"] : end]), self.table, self.question, ranked=True)
        following = paging.encode_cursor({"skip": end}) if end < len(self.pks) else None
        return Page(rows, following, lambda: len(self.pks))


def rank_designs(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    order: str = "verdict",
) -> RankedDesigns:
    """Put the designs that fit in order. Raises BenchnightError naming the parameter at fault."""
    filters = filters or DesignFilters()
    question = build_evidence_query(viewer, bands, benchmark_db)
    table = evidence_table.get_evidence_table()
    found = dict(
        Design.objects.standing()
        .filter(filters.conditions())
        .order_by("title", "key")
        .values_list("key", "pk")
    )
    ranked = _rank_keys(list(found), table, question, check_order(order), filters.verdict)
    return RankedDesigns(tuple(found[key] for key in ranked), table, question)


def find_design_key(typed: str) -> str | None:
    """Return the key of the design of this whole title; what was typed where none has it, None for nothing.

    Titles are public, so this needs no viewer.
    """
    plain = " ".join(typed.split())
    found = Design.objects.standing().filter(title__iexact=plain).values_list("key", flat=True)[:2]
    return found[0] if len(found) == 1 else plain or None


def get_design(
    viewer: Viewer, key: str, *, bands: tuple[str, ...] = (), benchmark_db: float | None = None
) -> DesignRow:
    """Return a design with its evidence per band; of a merged one, the design it was merged into.

    Raises BenchnightError `design.not_found`.
    """
    question = build_evidence_query(viewer, bands, benchmark_db)
    return _design_rows([_find_pk(key)], evidence_table.get_evidence_table(), question)[0]


def list_designs_by_key(
    viewer: Viewer,
    keys: list[str],
    *,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    ranked: bool = False,
) -> tuple[DesignRow, ...]:
    """Return the designs of these keys with their evidence, in their order; unknown keys are passed over.

    In place of a merged design stands the one it was merged into, once. ranked: judge all designs of the
    release together, which is faster from some designs on.
    """
    question = build_evidence_query(viewer, bands, benchmark_db)
    reached = Coalesce("merged_into", "pk")
    known = dict(Design.objects.filter(key__in=keys).values_list("key", reached))
    wanted = dict.fromkeys(known[key] for key in keys if key in known)
    return _design_rows(list(wanted), evidence_table.get_evidence_table(), question, ranked=ranked)


def get_reached_key(key: str) -> str:
    """Get the key of a design, or of the one that it was merged into. Raises BenchnightError
    `design.not_found`."""
    found = Design.objects.reached(key)
    if found is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    return found.key


def get_design_evidence(
    viewer: Viewer, key: str, *, bands: tuple[str, ...] = (), benchmark_db: float | None = None
) -> tuple[dict[str, Any], ...]:
    """Return per band the verdict and figures of a design (contract, evidence of a design on a band)."""
    return get_design(viewer, key, bands=bands, benchmark_db=benchmark_db).evidence


@read_once
def _find_pk(key: str) -> int:
    reached = Coalesce("merged_into", "pk")
    pk = Design.objects.filter(key=key).values_list(reached, flat=True).first()
    if pk is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    return int(pk)


def build_evidence_query(viewer: Viewer, bands: tuple[str, ...], benchmark_db: float | None) -> EvidenceQuery:
    known = tuple(row.band for row in reference.list_bands())
    for band in bands:
        if band not in known:
            raise BenchnightError(
                "band.unknown",
                f"There is no band {band[:12]!r} here; known: {', '.join(known)}.",
                field="band",
            )
    asked = tuple(band for band in known if band in bands)
    house_db = reference.get_benchmark_db()
    benchmark = decision_rule.check_benchmark(house_db if benchmark_db is None else benchmark_db)
    if get_circle(viewer) == "public" and (benchmark / PUBLIC_STEP_DB) % 1:
        raise BenchnightError(
            "benchmark.step",
            f"Without signing in, the benchmark goes in steps of {PUBLIC_STEP_DB:g} dB.",
            field="benchmark_db",
        )
    return EvidenceQuery(viewer, asked or known, asked, benchmark, house_db)


def _get_verdicts(table: EvidenceTable, bands: tuple[str, ...], question: EvidenceQuery) -> DesignVerdicts:
    return evidence_table.get_verdicts(table, bands, question.benchmark_db, _get_least_contributors(question))


def _get_least_contributors(question: EvidenceQuery) -> int:
    return evidence_view.get_min_contributors(get_circle(question.viewer), group_settings.get_thresholds())


def _evidence_object(
    table: EvidenceTable | None, key: str, bands: tuple[str, ...], question: EvidenceQuery, ranked: bool
) -> dict[str, Any]:
    """Return one evidence object, as this viewer may see it. ranked: all designs were judged on the
    question.
    """
    index = None if table is None else table.index_of.get(key)
    verdict, bins = None, None
    if table is not None and index is not None:
        if ranked and question.joint_bands in ((), bands):
            verdict = band_verdict.extract_verdict(_get_verdicts(table, bands, question), index)
        else:
            least = _get_least_contributors(question)
            verdict = evidence_table.get_verdict(table, index, bands, question.benchmark_db, least)
        if evidence_view.has_detail(verdict.contributors, group_settings.get_thresholds()):
            bins = evidence_table.get_histogram(table, index, bands)
    name = bands[0] if len(bands) == 1 else None
    return evidence_view.build_evidence_view(
        verdict,
        band=name,
        benchmark_db=question.benchmark_db,
        circle=get_circle(question.viewer),
        thresholds=group_settings.get_thresholds(),
        house_benchmark_db=question.house_benchmark_db,
        histogram=bins,
    )


def _design_rows(
    pks: list[int], table: EvidenceTable | None, question: EvidenceQuery, *, ranked: bool = False
) -> tuple[DesignRow, ...]:
    """Return rows of designs in the order of `pks`, in two queries whatever their number.

    ranked: the designs were chosen among all by this question, so that all are judged on it already.
    """
    by_pk = {row[0]: row[1:] for row in Design.objects.filter(pk__in=pks).values_list("pk", *_COLUMNS)}
    own: dict[int, int] = {}
    if question.viewer.signed_in:
        owned = Device.objects.filter(design__in=pks, contributor__member=question.viewer.member_id)
        for pk in owned.values_list("design", flat=True):
            own[pk] = own.get(pk, 0) + 1
    rows = []
    for pk in pks:
        key = by_pk[pk][0]
        shown = tuple(_evidence_object(table, key, (band,), question, ranked) for band in question.bands)
        joint = (
            _evidence_object(table, key, question.joint_bands, question, ranked)
            if len(question.joint_bands) > 1
            else None
        )
        rows.append(DesignRow(*by_pk[pk], evidence=shown, joint=joint, own_devices=own.get(pk, 0)))
    return tuple(rows)


def _rank_keys(
    keys: list[str], table: EvidenceTable | None, question: EvidenceQuery, order: str, verdict: str | None
) -> list[str]:
    """Return `keys` (given by title) filtered by verdict and put in order, with what the viewer may see."""
    standing = _SortFigures(keys, table, question)
    chosen = np.arange(len(keys))
    if verdict:
        chosen = chosen[standing.code[chosen] == decision_rule.VERDICTS.index(verdict)]  # type: ignore[arg-type]
    sort_keys = {
        "verdict": (-standing.median, -standing.chance, -standing.met, standing.code),
        "rejection": (-standing.median,),
        "devices": (-standing.devices,),
        "title": (np.zeros(len(keys)),),
    }[order]
    places = np.lexsort(tuple(column[chosen] for column in sort_keys)) if len(chosen) else []
    return [keys[chosen[place]] for place in places]


class _SortFigures:
    """What lists are ordered by, as the viewer sees it: NaN (last) where a figure is not shown.

    code, met, chance, median, devices: one number per key given. A code of `_UNANSWERED` is no verdict.
    """

    def __init__(self, keys: list[str], table: EvidenceTable | None, question: EvidenceQuery) -> None:
        self.code: NDArray[np.float64] = np.full(len(keys), float(decision_rule.NOT_ENOUGH))
        self.met: NDArray[np.float64] = np.zeros(len(keys))
        self.chance: NDArray[np.float64] = np.full(len(keys), np.nan)
        self.median: NDArray[np.float64] = np.full(len(keys), np.nan)
        self.devices: NDArray[np.float64] = np.zeros(len(keys))
        if table is None:
            return
        index = np.array([table.index_of.get(key, -1) for key in keys], dtype=np.int64)
        there = index >= 0
        if question.joint_bands:
            verdicts = _get_verdicts(table, question.joint_bands, question)
            self.code[there] = _list_shown_codes(verdicts, question)[index[there]]
            self._figures(there, index[there], verdicts, question)
        else:
            self._over_all_bands(there, index[there], table, question)

    def _figures(
        self,
        there: NDArray[np.bool_],
        index: NDArray[np.int64],
        verdicts: DesignVerdicts,
        question: EvidenceQuery,
    ) -> None:
        circle, limits = get_circle(question.viewer), group_settings.get_thresholds()
        shown = verdicts.code[index] != decision_rule.NOT_ENOUGH
        persons = verdicts.contributors[index]
        devices = np.where(shown, verdicts.devices[index], 0)
        self.chance[there] = evidence_view.round_chances(
            verdicts.chance[index],
            _VERDICT_NAMES[verdicts.code[index]],
            persons,
            circle=circle,
            thresholds=limits,
            at_house_benchmark=question.benchmark_db == question.house_benchmark_db,
        )
        self.median[there] = rounding.round_figures(
            verdicts.median[index], "rejection_db", evidence_view.has_detail(persons, limits)
        )
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
        medians = []
        for band in question.bands:
            verdicts = _get_verdicts(table, (band,), question)
            codes = _list_shown_codes(verdicts, question)[index]
            best = np.minimum(best, codes)
            met += codes == decision_rule.MEETS
            before = self.devices[there]
            self._figures(there, index, verdicts, question)
            self.devices[there] = np.maximum(before, self.devices[there])
            medians.append(self.median[there])
        self.code[there], self.met[there] = best, met
        self.chance[:] = np.nan
        known = ~np.isnan(medians)
        total = np.where(known, medians, 0).sum(axis=0)
        self.median[there] = np.where(known.any(axis=0), total / np.maximum(known.sum(axis=0), 1), np.nan)


def _list_shown_codes(verdicts: DesignVerdicts, question: EvidenceQuery) -> NDArray[np.int64]:
    """List the codes of all designs; `_UNANSWERED` where another benchmark than the group's has no verdict.

    Lists are filtered and ordered by these: the exact codes would give away what the rows hide.
    """
    codes = verdicts.code.astype(np.int64)
    if question.benchmark_db == question.house_benchmark_db:
        return codes
    detailed = evidence_view.has_detail(verdicts.contributors, group_settings.get_thresholds())
    return np.where(detailed | (codes == decision_rule.NOT_ENOUGH), codes, _UNANSWERED)
