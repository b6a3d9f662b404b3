"""The designs somebody gathers to see side by side: in the address, so that nothing is kept of a reader."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from measurements.charts.compare_chart import LETTERS
from measurements.pages import question
from measurements.pages.question import Words

MOST = len(LETTERS)
_KEY = re.compile("[a-z0-9]{12}")


@dataclass(frozen=True)
class Tray:
    """keys: in the order they were added, each once, at most four."""

    keys: tuple[str, ...]

    @property
    def full(self) -> bool:
        return len(self.keys) == MOST

    @property
    def words(self) -> Words:
        return [("design", key) for key in self.keys]

    def holds(self, key: str) -> bool:
        return key in self.keys

    def plus(self, key: str) -> Tray:
        """With one more design; a full tray and one that holds it already stay as they are."""
        return self if self.full or self.holds(key) else Tray((*self.keys, key))

    def without(self, key: str) -> Tray:
        return Tray(tuple(each for each in self.keys if each != key))

    def comparison(self, asked: Words) -> str:
        """Where these stand side by side."""
        return question.address(reverse("pages:compare"), self.words, asked)


def of(request: HttpRequest) -> Tray:
    """The designs named by `design` in the address; what cannot be a design's key is passed over."""
    keys = dict.fromkeys(key for key in request.GET.getlist("design") if _KEY.fullmatch(key))
    return Tray(tuple(keys)[:MOST])
