"""The guide: overview, a page for each kind, the bench, the flags; and the drawings as files."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.cache import get_conditional_response, patch_cache_control

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import cautions, door
from measurements.pages.guide import addresses, contents, flags, in_service, limits, the_bench
from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.entry import Entry, Section
from measurements.queries import reference
from measurements.rf.flag_catalogue import CATALOGUE

YEAR_S = 365 * 24 * 3600
SHORT_S = 300


def overview(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """GET: what do you want to know?"""
    cards = [(entry, addresses.picture(entry.kind, *entry.picture)) for entry in contents.ENTRIES]
    return door.render(request, "guide.html", {"cards": cards, **_frame(""), "cautions": cautions.ALL})


def topic(request: HttpRequest, _viewer: Viewer, topic: str) -> HttpResponse:
    """GET: one page of the guide."""
    if topic == contents.BENCH:
        return door.render(request, "guide_bench.html", {**_frame(topic), **_bench()})
    if topic == contents.FLAGS:
        return door.render(request, "guide_flags.html", {**_frame(topic), **_flags()})
    if topic == contents.SERVICE:
        context = {**_frame(topic), **in_service.context(), "cautions": cautions.ALL}
        return door.render(request, "guide_service.html", context)
    entry = contents.BY_KIND.get(topic)
    if entry is None:
        raise BenchnightError(
            "guide.unknown", "The guide has no such page. Start at its first page.", kind="not_found"
        )
    return door.render(request, "guide_kind.html", {**_frame(topic), **_kind(entry)})


def drawing(request: HttpRequest, slug: str) -> HttpResponse:
    """GET: a drawing as SVG, the same for everybody; cached for a year under the address that pages use."""
    found = catalogue.by_slug(slug)
    if found is None:
        return door.refusal(request, 404, "The guide has no such drawing.")
    response = HttpResponse(found.svg, content_type="image/svg+xml; charset=utf-8")
    etag = f'"{found.digest}"'
    response["ETag"] = etag
    if request.GET.get("v") == found.digest:
        patch_cache_control(response, public=True, max_age=YEAR_S, immutable=True)
    else:
        patch_cache_control(response, public=True, max_age=SHORT_S)
    return get_conditional_response(request, etag=etag, response=response) or response


def _frame(chosen: str) -> dict[str, Any]:
    """What the pages of the guide share: where else to go."""
    return {
        "chosen": chosen,
        "entries": contents.ENTRIES,
        "bench": contents.BENCH,
        "flags": contents.FLAGS,
        "service": contents.SERVICE,
    }


def _kind(entry: Entry) -> dict[str, Any]:
    titles = {each.method: each.title for each in entry.sections}
    return {
        "entry": entry,
        "cautions": entry.cautions,
        "limits": limits.in_words(entry.limits, reference.benchmarks()),
        "choices": [(choice, titles[choice.method]) for choice in entry.choices],
        "sections": [_section(entry, each) for each in entry.sections],
        "left_out": flags.of_kind(entry.kind, left_out=True),
        "noted": flags.of_kind(entry.kind, left_out=False),
    }


def _section(entry: Entry, section: Section) -> dict[str, Any]:
    return {
        "section": section,
        "pictures": [addresses.picture(entry.kind, section.method, role) for role in section.drawn],
        "tables": [make() for make in section.tables],
        "upload": addresses.upload(entry.kind, section.method),
        "also": [
            (the_bench.IN_PASSING[each], addresses.topic(contents.BENCH, each)) for each in section.bench
        ],
    }


def _bench() -> dict[str, Any]:
    reading = catalogue.readings()
    of_reading = addresses.Picture(addresses.of_drawing(reading), reading.words, reading.title)
    topics = []
    for each in the_bench.TOPICS:
        pictures = [addresses.picture(*key) for key in each.drawn]
        if each.anchor == "readings":
            pictures.append(of_reading)
        topics.append((each, pictures, [make() for make in each.tables]))
    return {"topics": topics, "cautions": (cautions.POWER, cautions.ANTENNA, cautions.CODES)}


def _flags() -> dict[str, Any]:
    groups = [
        (
            title,
            [
                (code, CATALOGUE[code].severity, each, addresses.topic(*each.see))
                for code, each in group.items()
            ],
        )
        for title, group in flags.GROUPS
    ]
    return {"groups": groups, "cautions": (cautions.POWER,)}
