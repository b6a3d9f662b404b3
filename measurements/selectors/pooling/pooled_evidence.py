"""Pooled evidence as this group shows it: rows of the release that it fetched last, the same to everybody."""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from measurements.errors import BenchnightError
from measurements.models import Design, PoolCopyRow
from measurements.selectors import paging
from measurements.selectors.paging import Page

Figures = dict[str, Any]


def list_pooled_rows(
    design: str | None = None, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[Figures]:
    """List rows, by recipe, kind and band; of one design of this group where it is named.

    Raises BenchnightError `design.not_found`, `cursor.invalid`, `limit.out_of_range`.
    """
    size = paging.check_limit(limit)
    rows = PoolCopyRow.objects.order_by("recipe_sha256", "kind", "pk")
    if design is not None:
        rows = rows.filter(recipe_sha256__in=list_recipe_hashes(design))
    position = paging.decode_cursor(cursor, skip=int) or {"skip": 0}
    end = position["skip"] + size
    found = list(rows[position["skip"] : end + 1])
    keys = dict(
        Design.objects.filter(recipe_sha256__in={row.recipe_sha256 for row in found}).values_list(
            "recipe_sha256", "key"
        )
    )
    shown = tuple(_show(row, keys.get(row.recipe_sha256)) for row in found[:size])
    following = paging.encode_cursor({"skip": end}) if len(found) > size else None
    return Page(shown, following, rows.count)


def _show(row: PoolCopyRow, key: str | None) -> Figures:
    """Build a row in the order of the API's columns."""
    names = ("limit", "chance", "verdict", "groups", "contributors", "devices", "median")
    return {
        "design": key,
        "recipe_sha256": row.recipe_sha256,
        "title": row.figures["title"],
        "kind": row.kind,
        "band": row.band,
        **{name: row.figures[name] for name in (*names, "p10", "p25", "p75", "p90")},
    }


def list_recipe_hashes(key: str) -> list[str]:
    """List the hashes of a design and of those that were merged into it. Raises `design.not_found`."""
    reached = Design.objects.reached(key)
    if reached is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    same = Design.objects.filter(Q(pk=reached.pk) | Q(merged_into=reached))
    return list(same.order_by("pk").values_list("recipe_sha256", flat=True))


def get_pooled_bands(key: str, kind: str = "common_mode") -> dict[str, Figures]:
    """Get what the copy says of a design that was merged into no other: band -> figures.

    Of a merged design the spelling with the most groups is taken: their votes are not added up.
    """
    best: dict[str, Figures] = {}
    same = Design.objects.filter(Q(key=key) | Q(merged_into__key=key)).values("recipe_sha256")
    rows = PoolCopyRow.objects.filter(recipe_sha256__in=same, kind=kind).order_by("pk")
    for band, figures in rows.values_list("band", "figures"):
        if band not in best or figures["groups"] > best[band]["groups"]:
            best[band] = figures
    return best
