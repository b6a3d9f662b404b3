"""The search box: answers as a page, and as a part of one while somebody types."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import rendering
from measurements.selectors.designs.design_filters import DesignWords
from measurements.selectors.search import search
from measurements.selectors.search.search import Hit, HitGroup
from measurements.services.designs.designs import read_said_parts

HEADINGS = {
    "test": "Tests",
    "device": "Devices",
    "place": "Places",
    "night": "Club nights",
    "person": "People",
    "design": "Designs",
    "part": "Cores and conductors",
}
EXAMPLES = ("12t coax FT240-31", "FT240-43", "RG-316")
OWN_EXAMPLES = ("yesterday", "a tag, a place or a kind of test", *EXAMPLES)


def _link_key(name: str) -> Callable[[Hit], str]:
    return lambda hit: reverse(f"pages:{name}", kwargs={"key": hit.key})


def _link_word(name: str, word: str) -> Callable[[Hit], str]:
    return lambda hit: f"{reverse(f'pages:{name}')}?{urlencode({word: hit.key})}"


LINKS: dict[str, Callable[[Hit], str]] = {
    "test": _link_key("test"),
    "device": _link_key("device"),
    "place": _link_word("devices", "q"),
    "night": _link_key("night"),
    "person": _link_word("steward_account", "name"),
    "guest": _link_word("devices", "q"),
    "design": _link_key("design"),
    "core": _link_word("designs", "core"),
    "conductor": _link_word("designs", "q"),
}
ALL_OF = {"device": "devices", "design": "designs"}  # lists that take the same words


@dataclass(frozen=True)
class Answer:
    """A group of hits with its heading. lines: hit and its address. more: address of all, or ""."""

    heading: str
    total: int
    lines: tuple[tuple[Hit, str], ...]
    more: str


def show_search(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the box and, behind `q`, what was found. `part=answers`: the answers alone, for the script."""
    asked = request.GET.get("q", "").replace("\x00", " ").strip()[: search.MOST_CHARACTERS]
    words = DesignWords(**read_said_parts(asked)) if asked else DesignWords()
    answers = [_build_answer(group, asked) for group in search.search_everything(viewer, asked, words)]
    context = {
        "q": asked,
        "most": search.MOST_CHARACTERS,
        "answers": answers,
        "total": sum(answer.total for answer in answers),
        "examples": OWN_EXAMPLES if viewer.signed_in else EXAMPLES,
    }
    only_answers = request.GET.get("part") == "answers"
    template = "search/parts/answers.html" if only_answers else "search/search.html"
    return rendering.render_page(request, template, context)


def _build_answer(group: HitGroup, asked: str) -> Answer:
    more = ""
    if group.what in ALL_OF and group.total > len(group.hits):
        more = f"{reverse(f'pages:{ALL_OF[group.what]}')}?{urlencode({'q': asked})}"
    lines = tuple((hit, LINKS[hit.what](hit)) for hit in group.hits)
    return Answer(HEADINGS[group.what], group.total, lines, more)
