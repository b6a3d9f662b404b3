"""The devices of a night as a list to search, filter and page through, with one device's tests at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import QueryDict

from measurements.pages.layout import wording
from measurements.pages.nights.presenters import NightDeviceLine

PAGE_SIZE = 20

SHORT = wording.DECISIONS["falls_short"]

# state -> its words, and whether a device has it
FILTERS: dict[str, tuple[str, Callable[[NightDeviceLine], bool]]] = {
    "": ("all", lambda line: True),
    "waiting": ("still to measure", lambda line: not line.measured),
    "meets": ("meets, every test", lambda line: _has_only(line, "meets")),
    "short": ("falls short in a test", lambda line: any(test.said is SHORT for test in line.tests)),
    "unjudged": ("measured, no verdict", lambda line: _has_only(line, "not_judged")),
    "lacking": ("owner or build missing", lambda line: not line.row.owner or line.row.design is None),
}


@dataclass(frozen=True)
class DeviceList:
    """One page of a night's devices.

    opened: key of the one whose tests are shown. base: the query without the page.
    """

    lines: tuple[NightDeviceLine, ...]
    found: int
    page: int
    pages: range
    base: str
    q: str
    state: str
    opened: str
    following: NightDeviceLine | None


def find_devices(lines: Sequence[NightDeviceLine], query: QueryDict) -> DeviceList:
    """Return the page that the query asks for: `q`, `state`, `page`, `show` (a device's key).

    following: the first device that still waits to be measured, after the one that is shown.
    """
    q, asked_state = query.get("q", "").strip(), query.get("state", "")
    state = asked_state if asked_state in FILTERS else ""
    wanted, fits = q.casefold(), FILTERS[state][1]
    found = [line for line in lines if fits(line) and (not wanted or wanted in _get_text(line))]
    opened = query.get("show", "")
    pages = range(1, max(1, -(-len(found) // PAGE_SIZE)) + 1)
    asked = query.get("page", "1")
    page = min(int(asked), pages[-1]) if asked.isdecimal() and len(asked) < 6 and int(asked) > 0 else 1
    place = next((at for at, line in enumerate(lines) if line.row.key == opened), -1)
    turned = [*lines[place + 1 :], *lines[: place + 1]]
    return DeviceList(
        lines=tuple(found[(page - 1) * PAGE_SIZE : page * PAGE_SIZE]),
        found=len(found),
        page=page,
        pages=pages,
        base=urlencode({name: value for name, value in (("q", q), ("state", state)) if value}),
        q=q,
        state=state,
        opened=opened,
        following=next((line for line in turned if not line.measured), None),
    )


def list_filters() -> list[tuple[str, str]]:
    """Return the states to filter by with their words."""
    return [(state, words) for state, (words, _) in FILTERS.items()]


def _has_only(line: NightDeviceLine, decision: str) -> bool:
    return line.measured and all(test.said is wording.DECISIONS[decision] for test in line.tests)


def _get_text(line: NightDeviceLine) -> str:
    return f"{line.row.tag} {line.row.owner} {line.row.design_title}".casefold()
