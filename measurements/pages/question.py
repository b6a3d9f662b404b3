"""What a reader asked, as the words of an address that leads on: bands, benchmark, and what they compare."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlencode

from measurements.pages.forms.find import FindForm

Words = list[tuple[str, str]]


def words(form: FindForm) -> Words:
    """Bands and benchmark as they were asked, nothing where they were not, or at fault."""
    if form.errors:
        return []
    asked = form.cleaned_data.get("benchmark_db")
    benchmark = [] if asked is None else [("benchmark_db", f"{asked:g}")]
    return [("band", band) for band in form.bands] + benchmark


def address(path: str, *parts: Iterable[tuple[str, str]]) -> str:
    """A path with these words behind it."""
    every = [pair for part in parts for pair in part]
    return f"{path}?{urlencode(every)}" if every else path
