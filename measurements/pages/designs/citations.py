"""Citing a verdict: an address that holds release, bands, kind and limit, and what a cited release said.

A verdict is a statement about one release. The page shows the present one; of an earlier release that an
address cites it shows what that release published, read from its file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.pages.designs import query_parameters
from measurements.pages.designs.forms import FindForm
from measurements.selectors.designs import watched
from measurements.selectors.designs.rows import DesignRow

MOST_DIGITS = 6


@dataclass(frozen=True)
class CitedRelease:
    """An earlier release that the address names.

    verdicts: band and verdict, at the group's limit of that time; empty where it had none.
    """

    number: int
    verdicts: tuple[tuple[str, str], ...]
    is_readable: bool


def build_citation(
    request: HttpRequest, viewer: Viewer, row: DesignRow, form: FindForm, release: int | None
) -> dict[str, Any]:
    """Collect the address that cites what the page shows, and the earlier release that its address cites."""
    if release is None:
        return {"cite_address": "", "cited": None}
    words = [pair for pair in query_parameters.get_query_parameters(form) if pair[0] != "kind"]
    if row.evidence and not any(name in ("benchmark_db", "limit") for name, _ in words):
        words += _list_limit_words(row)
    path = reverse("pages:design", kwargs={"key": row.key})
    words += [("kind", row.kind), ("release", str(release))]
    asked = _parse_release(request.GET.get("release", ""))
    cited = None if asked is None or asked >= release else _read_release(viewer, row, form, asked)
    return {
        "cite_address": request.build_absolute_uri(query_parameters.build_url(path, words)),
        "cited": cited,
    }


def _list_limit_words(row: DesignRow) -> list[tuple[str, str]]:
    """List the house limit that the page judged by, so that a later change of it does not change the link."""
    shown = row.evidence[0]
    found = ((name, shown.get(name)) for name in ("benchmark_db", "limit"))
    return [(name, f"{value:g}") for name, value in found if value is not None]


def _parse_release(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= MOST_DIGITS else None


def _read_release(viewer: Viewer, row: DesignRow, form: FindForm, number: int) -> CitedRelease:
    found = watched.read_published_verdicts(viewer, row.key, number)
    verdicts = tuple(
        (band, verdict.replace("_", " "))
        for (band, kind), verdict in (found or {}).items()
        if kind in ("", row.kind) and (not form.bands or band in form.bands)
    )
    return CitedRelease(number, verdicts, is_readable=found is not None)
