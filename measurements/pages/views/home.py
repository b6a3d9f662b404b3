"""The first page: find a design for my bands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import door, faults, question, ruler, standing, words
from measurements.pages.forms.find import RATIOS, FindForm
from measurements.pages.standing import Standing
from measurements.pages.tray import Tray
from measurements.queries import designs, reference, releases
from measurements.queries.rows import DesignRow

SHOWN = 20
SIDE_BY_SIDE = 3
NOT_ENOUGH = "not_enough_devices"


@dataclass(frozen=True)
class Found:
    """A design in the list of answers. overall: over all bands asked; one band is its own overall."""

    row: DesignRow
    overall: Standing
    bands: tuple[Standing, ...]


def home(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the question and, where bands were chosen, the answer. The whole state is in the address."""
    form = FindForm(request.GET)
    band_rows = reference.bands()
    context: dict[str, Any] = {
        "form": form,
        "band_rows": band_rows,
        "ratios": RATIOS,
        "release": releases.current(),
        "group_benchmark_db": reference.benchmark_db(),
        "ruler_ticks": ruler.ticks(),
        "ruler_blocks": ruler.blocks(band_rows),
        "verdicts": list(words.VERDICTS.values()),
    }
    if form.is_valid() and form.bands:
        try:
            context.update(_answer(viewer, form, request.GET))
        except BenchnightError as error:
            faults.show(form, error)
    status = 400 if form.errors else 200
    return door.render(request, "home.html", context, status=status)


def _answer(viewer: Viewer, form: FindForm, asked: QueryDict) -> dict[str, Any]:
    page = designs.listing(
        viewer, filters=form.filters, bands=form.bands, benchmark_db=form.benchmark, limit=SHOWN
    )
    found = [_found(row) for row in page.results]
    answered = [each for each in found if each.row.evidence and _verdict(each.row) != NOT_ENOUGH]
    first = Tray(tuple(each.row.key for each in answered[:SIDE_BY_SIDE]))
    return {
        "asked": True,
        "bands": form.bands,
        "benchmark_db": form.benchmark,
        "found": answered,
        "untested": [each for each in found if each not in answered],
        "question": question.address("", question.words(form)),
        "more": bool(page.next_cursor),
        "all_address": f"{reverse('pages:designs')}?{asked.urlencode()}#found",
        "compared": len(first.keys),
        "side_by_side": first.comparison(question.words(form)) if len(first.keys) > 1 else "",
        "loosen": [] if answered else list(_loosen(viewer, form, asked)),
    }


def _found(row: DesignRow) -> Found:
    return Found(
        row, standing.of(row.joint or row.evidence[0]), tuple(standing.of(each) for each in row.evidence)
    )


def _verdict(row: DesignRow) -> str:
    return (row.joint or row.evidence[0])["verdict"]


def _loosen(viewer: Viewer, form: FindForm, asked: QueryDict) -> Iterator[tuple[str, str]]:
    """Words and address of each single change that would bring an answer."""
    filters = form.filters
    trials = [
        (f"any ratio, not only {filters.ratio}", "ratio", replace(filters, ratio=None), form.bands),
        (f"any purpose, not only {filters.purpose}", "purpose", replace(filters, purpose=None), form.bands),
    ]
    trials = [trial for trial in trials if getattr(filters, trial[1])]
    for words_said, name, loosened, bands in trials:
        if _any_answer(viewer, loosened, bands, form.benchmark):
            yield words_said, _without(asked, name)
    for band in form.bands if len(form.bands) > 1 else ():
        rest = tuple(each for each in form.bands if each != band)
        if _any_answer(viewer, filters, rest, form.benchmark):
            yield f"without {band}", _without(asked, "band", band)


def _any_answer(viewer: Viewer, filters: Any, bands: tuple[str, ...], benchmark_db: float) -> bool:
    page = designs.listing(viewer, filters=filters, bands=bands, benchmark_db=benchmark_db, limit=1)
    return bool(page.results) and _verdict(page.results[0]) != NOT_ENOUGH


def _without(asked: QueryDict, name: str, value: str | None = None) -> str:
    rest = asked.copy()
    kept = [each for each in rest.getlist(name) if value is not None and each != value]
    rest.setlist(name, kept)
    return f"?{rest.urlencode()}"
