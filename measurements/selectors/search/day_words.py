"""Days as people type them: yesterday, Monday, last week, 2026-11-28, 28 Nov, November 2026. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_MONTH = "|".join(f"{name[:3]}(?:{name[3:]})?" for name in MONTHS)
_YEAR = r"(?:,?\s+(20\d\d))?"


@dataclass(frozen=True)
class Days:
    """First and last day that are meant, both counted. words: what said so. rest: the text without it."""

    first: date
    last: date
    words: str
    rest: str


def read_days(text: str, today: date) -> Days | None:
    """Read the first words of `text` that name a day, a week or a month; None where there are none."""
    for pattern, read in _PATTERNS:
        found = re.search(rf"(?<![\w-])(?:{pattern})(?:['’]s)?(?![\w-])", text, re.IGNORECASE)
        days = None if found is None else read(found, today)
        if found is not None and days is not None:
            rest = " ".join(f"{text[: found.start()]} {text[found.end() :]}".split())
            return Days(*days, found[0], rest)
    return None


def _read_ago(days: int) -> Callable[[re.Match[str], date], tuple[date, date]]:
    return lambda _found, today: (today - timedelta(days=days),) * 2


def _read_weekday(found: re.Match[str], today: date) -> tuple[date, date]:
    """Read the latest day of that name before today."""
    back = (today.weekday() - WEEKDAYS.index(found[1].lower()) - 1) % 7 + 1
    return (today - timedelta(days=back),) * 2


def _read_last_week(_found: re.Match[str], today: date) -> tuple[date, date]:
    monday = today - timedelta(days=today.weekday() + 7)
    return monday, monday + timedelta(days=6)


def _read_iso(found: re.Match[str], _today: date) -> tuple[date, date] | None:
    return _make_day(int(found[1]), int(found[2]), int(found[3]))


def _read_day_of_month(found: re.Match[str], today: date) -> tuple[date, date] | None:
    """Read `28 Nov 2026`; without a year the latest such day up to today."""
    return _read_named_day(found[1], found[2], found[3], today)


def _read_month_and_day(found: re.Match[str], today: date) -> tuple[date, date] | None:
    return _read_named_day(found[2], found[1], found[3], today)


def _read_named_day(day: str, month: str, year: str | None, today: date) -> tuple[date, date] | None:
    number = _find_month(month)
    made = _make_day(int(year) if year else today.year, number, int(day))
    if made is not None and not year and made[0] > today:
        return _make_day(today.year - 1, number, int(day))
    return made


def _read_month(found: re.Match[str], _today: date) -> tuple[date, date] | None:
    first = date(int(found[2]), _find_month(found[1]), 1)
    after = first.replace(year=first.year + first.month // 12, month=first.month % 12 + 1)
    return first, after - timedelta(days=1)


def _find_month(word: str) -> int:
    return 1 + next(n for n, name in enumerate(MONTHS) if name.startswith(word.lower()))


def _make_day(year: int, month: int, day: int) -> tuple[date, date] | None:
    try:
        return (date(year, month, day),) * 2
    except ValueError:
        return None


_PATTERNS: tuple[tuple[str, Callable[[re.Match[str], date], tuple[date, date] | None]], ...] = (
    ("today", _read_ago(0)),
    ("yesterday", _read_ago(1)),
    ("last week", _read_last_week),
    (r"(20\d\d)-(\d\d)-(\d\d)", _read_iso),
    (rf"(\d{{1,2}})(?:st|nd|rd|th)?\.?\s+({_MONTH})\.?{_YEAR}", _read_day_of_month),
    (rf"({_MONTH})\.?\s+(\d{{1,2}})(?:st|nd|rd|th)?{_YEAR}(?!\d)", _read_month_and_day),
    (rf"({_MONTH})\.?\s+(20\d\d)", _read_month),
    (rf"(?:last\s+|on\s+)?({'|'.join(WEEKDAYS)})", _read_weekday),
)
