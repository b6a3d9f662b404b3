"""Designs and what the current release says of them: the main look-up of the house.

Everything here comes from released evidence; no member's tests are read. What a viewer may not see is
taken away by `disclosure.evidence_view` before a row is made, and lists are ordered by what is shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models.functions import Coalesce

from measurements.disclosure import evidence_view
from measurements.disclosure.viewers import Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Design, Device, group_settings
from measurements.models.read_once import read_once
from measurements.selectors import paging
from measurements.selectors.designs import ranking
from measurements.selectors.designs.design_filters import ORDER_KINDS, DesignFilters, check_order
from measurements.selectors.designs.evidence_questions import EvidenceQuery, build_evidence_query
from measurements.selectors.designs.ranking import Listed
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence import evidence_table
from measurements.selectors.evidence.evidence_table import EvidenceTable
from measurements.selectors.paging import Page
from measurements.verdict import band_verdict
from measurements.verdict.judged_kinds import COMMON_MODE

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


def list_designs(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    kind: str | None = None,
    metric_limit: float | None = None,
    order: str = "verdict",
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[DesignRow]:
    """Return designs that fit the filters, best supported first, judged jointly over the bands asked.

    kind, metric_limit: see `build_evidence_query`. limit: rows of a page. Without bands, each row carries all
    bands of the plan and the order goes by how many are met. Raises BenchnightError naming the parameter at
    fault.
    """
    ranked = rank_designs(
        viewer,
        filters=filters,
        bands=bands,
        benchmark_db=benchmark_db,
        kind=kind,
        metric_limit=metric_limit,
        order=order,
    )
    return ranked.get_page(cursor, limit)


@dataclass(frozen=True)
class RankedDesigns:
    """Designs in their order, judged once, so that all pages of one reply rest on one release.

    pks: the rows in order.
    """

    pks: tuple[int, ...]
    tables: Mapping[str, EvidenceTable]
    question: EvidenceQuery

    def get_page(self, cursor: str | None, limit: int) -> Page[DesignRow]:
        """Read a page. Raises BenchnightError `cursor.invalid`, `limit.out_of_range`."""
        size = paging.check_limit(limit)
        position = paging.decode_cursor(cursor, skip=int) or {"skip": 0}
        end = position["skip"] + size
        rows = self.get_rows(position["skip"], size)
        following = paging.encode_cursor({"skip": end}) if end < len(self.pks) else None
        return Page(rows, following, lambda: len(self.pks))

    def get_rows(self, first: int, most: int) -> tuple[DesignRow, ...]:
        """Read at most `most` designs from place `first` on."""
        return _design_rows(list(self.pks[first : first + most]), self.tables, self.question, ranked=True)


def rank_designs(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    kind: str | None = None,
    metric_limit: float | None = None,
    order: str = "verdict",
) -> RankedDesigns:
    """Put the designs that fit in order. Raises BenchnightError naming the parameter at fault.

    kind: None lets the order say, or else each design by what it is judged by first.
    """
    filters = filters or DesignFilters()
    asked_kind = kind or ORDER_KINDS.get(check_order(order))
    question = build_evidence_query(viewer, bands, benchmark_db, kind=asked_kind, metric_limit=metric_limit)
    tables = evidence_table.get_evidence_tables()
    found = (
        Design.objects.standing()
        .filter(filters.conditions())
        .order_by("title", "key")
        .values_list("pk", "key", "purpose", "principle")
    )
    listed = [Listed(pk, key, question.get_kind(*of_what)) for pk, key, *of_what in found]
    pks = ranking.rank_listed(listed, tables, question, order, filters.verdict)
    return RankedDesigns(tuple(pks), tables, question)


def find_design_key(typed: str) -> str | None:
    """Return the key of the design of this whole title; what was typed where none has it, None for nothing.

    Titles are public, so this needs no viewer.
    """
    plain = " ".join(typed.split())
    found = Design.objects.standing().filter(title__iexact=plain).values_list("key", flat=True)[:2]
    return found[0] if len(found) == 1 else plain or None


def get_design(
    viewer: Viewer,
    key: str,
    *,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    kind: str | None = None,
    metric_limit: float | None = None,
) -> DesignRow:
    """Return a design with its evidence per band; of a merged one, the design it was merged into.

    kind: None for what it is judged by first. Raises BenchnightError `design.not_found`, and as
    `build_evidence_query` does; `limit.kind` for a limit of a design that is judged by rejection.
    """
    question = build_evidence_query(viewer, bands, benchmark_db, kind=kind, metric_limit=metric_limit)
    (row,) = _design_rows([_find_pk(key)], evidence_table.get_evidence_tables(), question)
    if metric_limit is not None and row.kind == COMMON_MODE:
        raise BenchnightError(
            "limit.kind",
            "This design is judged by rejection first. Name a kind beside the limit: insertion_loss or "
            "load_match.",
            field="limit",
        )
    return row


def list_designs_by_key(
    viewer: Viewer,
    keys: list[str],
    *,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    kind: str | None = None,
    metric_limit: float | None = None,
    ranked: bool = False,
) -> tuple[DesignRow, ...]:
    """Return the designs of these keys with their evidence, in their order; unknown keys are passed over.

    In place of a merged design stands the one it was merged into, once. ranked: judge all designs of the
    release together, which is faster from some designs on.
    """
    question = build_evidence_query(viewer, bands, benchmark_db, kind=kind, metric_limit=metric_limit)
    reached = Coalesce("merged_into", "pk")
    known = dict(Design.objects.filter(key__in=keys).values_list("key", reached))
    wanted = dict.fromkeys(known[key] for key in keys if key in known)
    return _design_rows(list(wanted), evidence_table.get_evidence_tables(), question, ranked=ranked)


def get_reached_key(key: str) -> str:
    """Get the key of a design, or of the one that it was merged into. Raises BenchnightError
    `design.not_found`."""
    found = Design.objects.reached(key)
    if found is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    return found.key


def get_design_evidence(viewer: Viewer, key: str, **asked: Any) -> tuple[dict[str, Any], ...]:
    """Return per band the verdict and figures of a design (contract, evidence of a design on a band).

    asked: as `get_design` takes it.
    """
    return get_design(viewer, key, **asked).evidence


@read_once
def _find_pk(key: str) -> int:
    reached = Coalesce("merged_into", "pk")
    pk = Design.objects.filter(key=key).values_list(reached, flat=True).first()
    if pk is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    return int(pk)


def _evidence_object(
    table: EvidenceTable | None, one: Listed, bands: tuple[str, ...], question: EvidenceQuery, ranked: bool
) -> dict[str, Any]:
    """Return one evidence object, as this viewer may see it. ranked: all designs were judged on the
    question.
    """
    index = None if table is None else table.index_of.get(one.key)
    verdict, bins = None, None
    if table is not None and index is not None:
        if ranked and question.joint_bands in ((), bands):
            verdict = band_verdict.extract_verdict(ranking.get_verdicts(table, bands, question), index)
        else:
            least = question.get_least_contributors()
            verdict = evidence_table.get_verdict(table, index, bands, question.limits[one.kind], least)
        if evidence_view.has_detail(verdict.contributors, group_settings.get_thresholds()):
            bins = evidence_table.get_histogram(table, index, bands)
    return evidence_view.build_evidence_view(
        verdict,
        band=bands[0] if len(bands) == 1 else None,
        kind=one.kind,
        limit=question.limits[one.kind],
        circle=get_circle(question.viewer),
        thresholds=group_settings.get_thresholds(),
        house_limit=question.house_limits[one.kind],
        histogram=bins,
    )


def _design_rows(
    pks: list[int],
    tables: Mapping[str, EvidenceTable],
    question: EvidenceQuery,
    *,
    ranked: bool = False,
) -> tuple[DesignRow, ...]:
    """Return rows of designs in the order of `pks`, in two queries whatever their number.

    ranked: the designs were chosen among all by this question, so that all are judged on it already.
    """
    by_pk = _read_columns(tuple(pks))
    own = _count_own_devices(tuple(pks), question.viewer)
    rows = []
    for pk in pks:
        columns = dict(zip(_COLUMNS, by_pk[pk], strict=True))
        kind = question.get_kind(columns["purpose"], columns["principle"])
        one, table = Listed(pk, columns["key"], kind), tables.get(kind)
        shown = tuple(_evidence_object(table, one, (band,), question, ranked) for band in question.bands)
        joint = (
            _evidence_object(table, one, question.joint_bands, question, ranked)
            if len(question.joint_bands) > 1
            else None
        )
        rows.append(DesignRow(**columns, kind=kind, evidence=shown, joint=joint, own_devices=own.get(pk, 0)))
    return tuple(rows)


@read_once
def _read_columns(pks: tuple[int, ...]) -> dict[int, tuple[Any, ...]]:
    """Read `_COLUMNS` of these designs, by row number."""
    return {row[0]: row[1:] for row in Design.objects.filter(pk__in=pks).values_list("pk", *_COLUMNS)}


@read_once
def _count_own_devices(pks: tuple[int, ...], viewer: Viewer) -> dict[int, int]:
    """Count the viewer's devices of each of these designs."""
    own: dict[int, int] = {}
    if viewer.signed_in:
        owned = Device.objects.filter(design__in=pks, contributor__member=viewer.member_id)
        for pk in owned.values_list("design", flat=True):
            own[pk] = own.get(pk, 0) + 1
    return own
