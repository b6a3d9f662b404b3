"""The first page: find a design for my bands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs import judged_words, query_parameters
from measurements.pages.designs import presenters as designs_presenters
from measurements.pages.designs.forms import RATIOS, FindForm
from measurements.pages.designs.judged_words import KIND_WORDS
from measurements.pages.designs.presenters import EvidenceSummary
from measurements.pages.designs.query_parameters import Selection
from measurements.pages.find import presenters as find_presenters
from measurements.pages.find.answer_grid import build_answer_grid
from measurements.pages.layout import form_handling, rendering, wording
from measurements.pages.steward.setup_steps import list_setup_steps
from measurements.selectors.designs import designs
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.reference import reference
from measurements.selectors.releases import releases
from measurements.verdict.judged_kinds import COMMON_MODE, INSERTION_LOSS

MAX_BANDS_TRIED = 9  # each costs a look-up
MAX_SHOWN = 20
SIDE_BY_SIDE = 3
NOT_ENOUGH = "not_enough_devices"


@dataclass(frozen=True)
class FoundDesign:
    """A design in the list of answers. overall: over all bands asked; one band is its own overall."""

    row: DesignRow
    overall: EvidenceSummary
    bands: tuple[EvidenceSummary, ...]


def show_home(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the question and, where bands were chosen, the answer. The whole state is in the address."""
    form = FindForm(request.GET)
    band_rows, limits = reference.list_bands(), reference.get_limits()
    context: dict[str, Any] = {
        "form": form,
        "band_rows": band_rows,
        "ratios": RATIOS,
        "release": releases.get_current_release(),
        "group_benchmark_db": limits[COMMON_MODE],
        "group_loss_db": limits[INSERTION_LOSS],
        "ruler_ticks": find_presenters.build_ticks(),
        "ruler_blocks": find_presenters.build_band_blocks(band_rows),
        "verdicts": list(wording.VERDICTS.values()),
    }
    if form.is_valid() and form.bands:
        try:
            context.update(_build_answer(request, viewer, form))
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
    elif form.is_valid():
        context["grid"] = build_answer_grid(viewer)
    if viewer.is_steward and not reference.has_demo():
        context["setup"] = [step for step in list_setup_steps(viewer) if not step.done]
    status = 400 if form.errors else 200
    return rendering.render_page(request, "find/home.html", context, status=status)


def _build_answer(request: HttpRequest, viewer: Viewer, form: FindForm) -> dict[str, Any]:
    asked = request.GET
    page = designs.list_designs(viewer, filters=form.filters, **form.question, limit=MAX_SHOWN)
    found = [_present_design(row) for row in page.results]
    answered = [each for each in found if each.row.evidence and _get_verdict(each.row) != NOT_ENOUGH]
    first = Selection(tuple(each.row.key for each in answered[:SIDE_BY_SIDE]))
    return {
        "asked": True,
        "bands": form.bands,
        **_describe_question(request, form, page.results),
        "found": answered,
        "untested": [each for each in found if each not in answered],
        "question": query_parameters.build_url("", query_parameters.get_query_parameters(form)),
        "more": bool(page.next_cursor),
        "all_address": f"{reverse('pages:designs')}?{asked.urlencode()}#found",
        "compared": len(first.keys),
        "side_by_side": first.comparison(query_parameters.get_query_parameters(form))
        if len(first.keys) > 1
        else "",
        "loosen": []
        if any(_is_answer(each.row) for each in answered)
        else list(_list_relaxations(viewer, form, asked)),
    }


def _describe_question(request: HttpRequest, form: FindForm, rows: Sequence[DesignRow]) -> dict[str, Any]:
    """Say what designs are held against, and link the same question about another figure."""
    limits = reference.get_limits()
    # a new one: what was read is remembered for the rest of the request
    limits = limits | {row.kind: judged_words.get_limit(row.evidence[0]) for row in rows if row.evidence}
    mixed = len({row.kind for row in rows}) > 1
    words = KIND_WORDS[form.list_kind or (rows[0].kind if rows else COMMON_MODE)]
    ends = f"{words.low:g} to {words.high:g}{words.unit}"
    asked_kind = form.list_kind if mixed else words.kind
    return {
        "heading_at": judged_words.describe_heading(asked_kind, limits, mixed),
        "held_against": judged_words.describe_limits(asked_kind, limits, mixed),
        "kinds": judged_words.list_kind_choices(
            request,
            form.asked_kind or (None if mixed else words.kind),
            form.cleaned_data["purpose"] or "choke",
            "current",
            "#answer",
        ),
        "limited": not words.is_rejection,
        "picture_ends": "each from none to much" if mixed else ends,
    }


def _present_design(row: DesignRow) -> FoundDesign:
    return FoundDesign(
        row,
        designs_presenters.summarise_evidence(
            row.joint or row.evidence[0], [each["band"] for each in row.evidence]
        ),
        tuple(designs_presenters.summarise_evidence(each) for each in row.evidence),
    )


def _get_verdict(row: DesignRow) -> str | None:
    """Get the verdict on all bands asked; None where another benchmark has no answer."""
    found: str | None = (row.joint or row.evidence[0])["verdict"]
    return found


def _is_answer(row: DesignRow) -> bool:
    return _get_verdict(row) not in (None, NOT_ENOUGH)


def _list_relaxations(viewer: Viewer, form: FindForm, asked: QueryDict) -> Iterator[tuple[str, str]]:
    """Yield words and address of each single change that would bring an answer.

    Where the house's own benchmark brings one, that is the change: another benchmark needs ten people.
    """
    filters = form.filters
    house_db = reference.get_benchmark_db()
    if form.benchmark != house_db and _has_answer(viewer, filters, form.bands, house_db, form.asked_kind):
        yield f"{house_db:g} dB, not {form.benchmark:g} dB", _remove_parameter(asked, "benchmark_db")
        return
    trials = [
        (f"any ratio, not only {filters.ratio}", "ratio", replace(filters, ratio=None), form.bands),
        (f"any purpose, not only {filters.purpose}", "purpose", replace(filters, purpose=None), form.bands),
    ]
    trials = [trial for trial in trials if getattr(filters, trial[1])]
    for words_said, name, loosened, bands in trials:
        if _has_answer(viewer, loosened, bands, form.benchmark, form.asked_kind):
            yield words_said, _remove_parameter(asked, name)
    for band in form.bands[:MAX_BANDS_TRIED] if len(form.bands) > 1 else ():
        rest = tuple(each for each in form.bands if each != band)
        if _has_answer(viewer, filters, rest, form.benchmark, form.asked_kind):
            yield f"without {band}", _remove_parameter(asked, "band", band)


def _has_answer(
    viewer: Viewer, filters: Any, bands: tuple[str, ...], benchmark_db: float, kind: str | None
) -> bool:
    page = designs.list_designs(
        viewer, filters=filters, bands=bands, benchmark_db=benchmark_db, kind=kind, limit=1
    )
    return bool(page.results) and _is_answer(page.results[0])


def _remove_parameter(asked: QueryDict, name: str, value: str | None = None) -> str:
    rest = asked.copy()
    kept = [each for each in rest.getlist(name) if value is not None and each != value]
    rest.setlist(name, kept)
    return f"?{rest.urlencode()}"
