"""What a reader asked, as the words of an address that leads on: bands, benchmark, and what they compare."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse

from measurements.charts.compare_chart import DESIGN_LETTERS
from measurements.pages.designs.forms import FindForm

QueryParameters = list[tuple[str, str]]


def get_query_parameters(form: FindForm) -> QueryParameters:
    """Return bands, benchmark, limit and kind of the query; nothing where they are missing or faulty."""
    if form.errors:
        return []
    numbers = ((name, form.cleaned_data.get(name)) for name in ("benchmark_db", "limit"))
    limits = [(name, f"{asked:g}") for name, asked in numbers if asked is not None]
    kind = [("kind", form.asked_kind)] if form.asked_kind else []
    return [("band", band) for band in form.bands] + limits + kind


def build_url(path: str, *parts: Iterable[tuple[str, str]]) -> str:
    """Return a path with these words behind it."""
    every = [pair for part in parts for pair in part]
    return f"{path}?{urlencode(every)}" if every else path


# The designs that a reader gathers side by side: in the address, so that the server stores nothing.

MAX_SELECTED = len(DESIGN_LETTERS)

_KEY = re.compile("[a-z0-9]{12}")


@dataclass(frozen=True)
class Selection:
    """keys: in the order they were added, each once, at most four."""

    keys: tuple[str, ...]

    @property
    def full(self) -> bool:
        return len(self.keys) == MAX_SELECTED

    @property
    def words(self) -> QueryParameters:
        return [("design", key) for key in self.keys]

    def holds(self, key: str) -> bool:
        return key in self.keys

    def plus(self, key: str) -> Selection:
        """Return with one more design; a full tray and one that holds it already stay as they are."""
        return self if self.full or self.holds(key) else Selection((*self.keys, key))

    def without(self, key: str) -> Selection:
        return Selection(tuple(each for each in self.keys if each != key))

    def comparison(self, asked: QueryParameters) -> str:
        """Return the address of the comparison of these designs."""
        return build_url(reverse("pages:compare"), self.words, asked)


def read_selection(request: HttpRequest) -> Selection:
    """Return the designs named by `design` in the address; what cannot be a design's key is passed over."""
    keys = dict.fromkeys(key for key in request.GET.getlist("design") if _KEY.fullmatch(key))
    return Selection(tuple(keys)[:MAX_SELECTED])
