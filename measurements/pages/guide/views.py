"""The guide's page on keeping devices in service: what a state means, and what it is judged by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.cache import get_conditional_response, patch_cache_control

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.fitness.checklist import CHECKLIST_ITEMS, ITEMS_BY_CODE
from measurements.fitness.due_events import DUE_EVENTS
from measurements.fitness.fault_search import SEARCH_PATHS
from measurements.fitness.service_facts import CORE_BANDS, SERVICE_STATES
from measurements.pages.guide import bench_setup, contents
from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.page_structure import Entry, Section
from measurements.pages.guide.topics.catalogue import GUIDE_PAGES, PAGES_BY_SLUG
from measurements.pages.guide.topics.guide_page import GuidePage
from measurements.pages.layout import cautions, fault_wording, figures, rendering, upkeep_wording
from measurements.rf.flags import FLAG_CATALOGUE
from measurements.rf.request import Limits
from measurements.selectors.reference import reference
from measurements.selectors.reference.reference import BenchmarkRow
from measurements.selectors.upkeep import upkeep_facts
from measurements.verdict.repeatability import LEAST_DOF, REPEAT_WITHIN_DAYS

STATE_ORDER_REASONS = {
    "unserviceable": "A known fault comes first: it is not cured by being old, and a device that is both "
    "faulty "
    "and overdue must not be filed as overdue alone.",
    "untested": "Before overdue, because overdue says that it was good once, and nobody knows that.",
    "overdue": "Before watch: figures that are too old say little about today.",
    "watch": "It may stay in use while somebody looks again.",
    "serviceable": "With what it was found good for, and when something is due next.",
}


def build_service_context() -> dict[str, Any]:
    """Return states in their order, the group's numbers in force, the check list, the paths."""
    rules, limits = upkeep_facts.get_service_rules(), upkeep_facts.get_limits_by_kind()
    return {
        "states": [
            (upkeep_wording.STATE_BADGES[state], STATE_ORDER_REASONS[state]) for state in SERVICE_STATES
        ],
        "rules": rules,
        "limits": limits,
        "items": CHECKLIST_ITEMS,
        "events": [
            (event.title, [ITEMS_BY_CODE[code].title.lower() for code in event.items], event.checks)
            for event in DUE_EVENTS
        ],
        "core_bands": CORE_BANDS,
        "least_dof": LEAST_DOF,
        "repeat_within_days": REPEAT_WITHIN_DAYS,
        "paths": [
            (fault_wording.SYMPTOMS[symptom][0], [fault_wording.SEARCH_STEPS[step] for step in steps])
            for symptom, steps in SEARCH_PATHS.items()
        ],
    }


# Guide: the limits that a test is held against today, in words, and whose they are.

# metric: words, whether more is better, unit, and the engine's own value where the group has set none
_METRICS: dict[str, tuple[str, bool, str, float]] = {
    "rejection_db": ("rejection", True, "dB", Limits.benchmark_db),
    "swr": ("SWR", False, "", Limits.swr),
    "loss_db": ("loss", False, "dB", Limits.loss_db),
    "amplitude_imbalance_db": ("amplitude imbalance", False, "dB", Limits.amplitude_db),
    "phase_imbalance_deg": ("phase imbalance", False, "degrees", Limits.phase_deg),
}


@dataclass(frozen=True)
class LimitDescription:
    """One limit: what it asks, whose it is."""

    text: str
    source: str


def describe_limits(
    wanted: Iterable[tuple[str, str]], rows: Iterable[BenchmarkRow]
) -> tuple[LimitDescription, ...]:
    """Return the limits of these kinds and metrics; of several rows the newest counts."""
    newest: dict[tuple[str, str], BenchmarkRow] = {}
    for row in sorted(rows, key=lambda row: row.as_of):
        newest[row.kind, row.metric] = row
    return tuple(_describe_limit(metric, newest.get((kind, metric))) for kind, metric in wanted)


def _describe_limit(metric: str, row: BenchmarkRow | None) -> LimitDescription:
    name, more_is_better, unit, default = _METRICS[metric]
    value = default if row is None else row.value
    bound = f"at {'least' if more_is_better else 'most'} {figures.format_significant(value)}"
    text = f"{name} {bound} {unit}".rstrip()
    return LimitDescription(text, "House default." if row is None else f"{row.source}.")


# The guide: overview, a page for each kind, the bench, the flags; and the drawings as files.

YEAR_S = 365 * 24 * 3600

SHORT_S = 300


def show_guide(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """GET: what do you want to know?"""
    cards = [(entry, contents.build_picture(entry.kind, *entry.picture)) for entry in contents.ENTRIES]
    return rendering.render_page(
        request,
        "guide/overview.html",
        {"cards": cards, **_build_navigation(""), "cautions": cautions.list_cautions("guide")},
    )


def show_guide_topic(request: HttpRequest, _viewer: Viewer, topic: str) -> HttpResponse:
    """GET: one page of the guide."""
    if topic == contents.BENCH_TOPIC:
        return rendering.render_page(
            request, "guide/bench.html", {**_build_navigation(topic), **_build_bench_context()}
        )
    if topic == contents.FLAGS_TOPIC:
        return rendering.render_page(
            request, "guide/flags.html", {**_build_navigation(topic), **_build_flags_context()}
        )
    if topic == contents.SERVICE_TOPIC:
        context = {
            **_build_navigation(topic),
            **build_service_context(),
            "cautions": cautions.list_cautions("guide.service"),
        }
        return rendering.render_page(request, "guide/service.html", context)
    page = PAGES_BY_SLUG.get(topic)
    if page is not None:
        return rendering.render_page(
            request, "guide/page.html", {**_build_navigation(topic), **_build_page_context(page)}
        )
    entry = contents.ENTRIES_BY_KIND.get(topic)
    if entry is None:
        raise BenchnightError(
            "guide.unknown", "The guide has no such page. Start at its first page.", kind="not_found"
        )
    return rendering.render_page(
        request, "guide/kind.html", {**_build_navigation(topic), **_build_kind_context(entry)}
    )


def download_drawing(request: HttpRequest, slug: str) -> HttpResponse:
    """GET: a drawing as SVG, the same for everybody; cached for a year under the address that pages use."""
    found = catalogue.find_drawing(slug)
    if found is None:
        return rendering.render_refusal(request, 404, "The guide has no such drawing.")
    response = HttpResponse(found.svg, content_type="image/svg+xml; charset=utf-8")
    etag = f'"{found.digest}"'
    response["ETag"] = etag
    if request.GET.get("v") == found.digest:
        patch_cache_control(response, public=True, max_age=YEAR_S, immutable=True)
    else:
        patch_cache_control(response, public=True, max_age=SHORT_S)
    return get_conditional_response(request, etag=etag, response=response) or response


def _build_navigation(chosen: str) -> dict[str, Any]:
    """Collect the links that the pages of the guide share."""
    return {
        "chosen": chosen,
        "entries": contents.ENTRIES,
        "pages": GUIDE_PAGES,
        "bench": contents.BENCH_TOPIC,
        "flags": contents.FLAGS_TOPIC,
        "service": contents.SERVICE_TOPIC,
    }


def _build_page_context(page: GuidePage) -> dict[str, Any]:
    parts = [(part, [contents.build_picture(*key) for key in part.pictures]) for part in page.parts]
    return {"page": page, "parts": parts, "cautions": cautions.list_cautions(f"guide.{page.slug}")}


def _build_kind_context(entry: Entry) -> dict[str, Any]:
    titles = {each.method: each.title for each in entry.sections}
    return {
        "entry": entry,
        "cautions": entry.cautions,
        "limits": describe_limits(entry.limits, reference.list_benchmarks()),
        "choices": [(choice, titles[choice.method]) for choice in entry.choices],
        "sections": _build_sections(entry),
        "left_out": contents.list_flags_of_kind(entry.kind, left_out=True),
        "noted": contents.list_flags_of_kind(entry.kind, left_out=False),
    }


def _build_sections(entry: Entry) -> list[dict[str, Any]]:
    """Build the sections, each table in the first that needs it."""
    shown: set[Any] = set()
    built = []
    for section in entry.sections:
        tables = [make for make in section.tables if make not in shown]
        shown.update(tables)
        built.append({**_build_section_context(entry, section), "tables": [make() for make in tables]})
    return built


def _build_section_context(entry: Entry, section: Section) -> dict[str, Any]:
    return {
        "section": section,
        "folded": entry.is_folded(section),
        "pictures": [contents.build_picture(entry.kind, section.method, role) for role in section.drawn],
        "upload": contents.get_upload_url(entry.kind, section.method),
        "also": [
            (bench_setup.TOPIC_MENTIONS[each], contents.get_topic_url(contents.BENCH_TOPIC, each))
            for each in section.bench
        ],
    }


def _build_bench_context() -> dict[str, Any]:
    reading = catalogue.get_reading_drawing()
    of_reading = contents.GuidePicture(contents.get_drawing_url(reading), reading.words, reading.title)
    topics = []
    for each in bench_setup.BENCH_TOPICS:
        pictures = [contents.build_picture(*key) for key in each.drawn]
        if each.anchor == "readings":
            pictures.append(of_reading)
        topics.append((each, pictures, [make() for make in each.tables]))
    return {"topics": topics, "cautions": cautions.list_cautions("guide.bench")}


def _build_flags_context() -> dict[str, Any]:
    groups = [
        (
            title,
            [
                (code, FLAG_CATALOGUE[code].severity, each, contents.get_topic_url(*each.see))
                for code, each in group.items()
            ],
        )
        for title, group in contents.FLAG_GROUPS
    ]
    return {"groups": groups, "cautions": cautions.list_cautions("guide.flags")}
