"""Days as people type them. Expected days: the calendar of November 2026 (29 November 2026 is a Sunday)."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.selectors.search.day_words import read_days

TODAY = date(2026, 11, 29)


@pytest.mark.parametrize(
    ("text", "first", "last", "rest"),
    [
        ("today", (2026, 11, 29), (2026, 11, 29), ""),
        ("Yesterday", (2026, 11, 28), (2026, 11, 28), ""),
        ("C-77 yesterday", (2026, 11, 28), (2026, 11, 28), "C-77"),
        ("yesterday's test", (2026, 11, 28), (2026, 11, 28), "test"),
        ("saturday", (2026, 11, 28), (2026, 11, 28), ""),
        ("last Sunday", (2026, 11, 22), (2026, 11, 22), ""),
        ("last week", (2026, 11, 16), (2026, 11, 22), ""),
        ("2026-02-28", (2026, 2, 28), (2026, 2, 28), ""),
        ("28 Nov", (2026, 11, 28), (2026, 11, 28), ""),
        ("Hill 3rd march 2024", (2024, 3, 3), (2024, 3, 3), "Hill"),
        ("March 3, 2024", (2024, 3, 3), (2024, 3, 3), ""),
        ("30 Dec", (2025, 12, 30), (2025, 12, 30), ""),
        ("November 2026", (2026, 11, 1), (2026, 11, 30), ""),
        ("dec 2025", (2025, 12, 1), (2025, 12, 31), ""),
    ],
)
def test_days_are_read(text, first, last, rest):
    found = read_days(text, TODAY)
    assert found is not None
    assert (found.first, found.last, found.rest) == (date(*first), date(*last), rest)


@pytest.mark.parametrize(
    "text", ["", "12 turns", "2026-02-30", "mayor", "C-2026-11-28", "decoy 12", "FT240-31", "31 Feb", "9:1"]
)
def test_other_words_are_no_days(text):
    assert read_days(text, TODAY) is None
