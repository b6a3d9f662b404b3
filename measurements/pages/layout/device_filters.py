"""Filters of devices in the address: read, shown in words, and carried from page to page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import ceil
from urllib.parse import urlencode

from django.http import HttpRequest

from measurements.pages.layout import upkeep_wording
from measurements.selectors.upkeep.device_filters import GROUP, MONTH, NEVER, NOW, WAITING, DueFilter

MAX_SEARCH_CHARACTERS = 64
MAX_NAME_CHARACTERS = 128
FILTER_WORDS = ("q", "state", "mine", "retired", "group", "owner", "place", "month")


def read_filters(request: HttpRequest, given: Mapping[str, str] | None = None) -> DueFilter:
    """Return the filters of the address, or of a form; what is not one is passed over.

    "-" for `place` means devices without a place.
    """
    words = given if given is not None else request.GET.dict()
    state, month = words.get("state", ""), words.get("month", "")
    owner, place = _clean(words.get("owner", "")), _clean(words.get("place", ""))
    return DueFilter(
        text=words.get("q", "").replace("\x00", "").strip()[:MAX_SEARCH_CHARACTERS],
        state=state if state in (*upkeep_wording.STATE_BADGES, "due", WAITING) else "",
        mine=words.get("mine") == "yes",
        retired=words.get("retired") == "yes",
        of_group=words.get("group") == "yes",
        owner=owner if owner == GROUP or owner.startswith(("member:", "guest:")) else "",
        place=None if not place else "" if place == "-" else place,
        month=month if month in (NOW, NEVER) or MONTH.fullmatch(month) else "",
    )


def _clean(text: str) -> str:
    return text.replace("\x00", "")[:MAX_NAME_CHARACTERS]


def list_chosen_filters(request: HttpRequest, wanted: DueFilter) -> list[tuple[str, str]]:
    """Return the filters by owner, place and month in words, each with the address without it."""
    owner = "the group" if wanted.owner == GROUP else wanted.owner.partition(":")[2]
    months = {NOW: "due already", NEVER: "no day"}
    named = {
        "owner": f"of {owner}" if wanted.owner else "",
        "place": "" if wanted.place is None else f"at {wanted.place}" if wanted.place else "without a place",
        "month": months.get(wanted.month, f"due in {wanted.month}") if wanted.month else "",
        "group": "kit of the group" if wanted.of_group else "",
    }
    return [(said, make_query(request, **{name: ""}, page="")) for name, said in named.items() if said]


def list_kept_words(request: HttpRequest, *names: str) -> list[tuple[str, str]]:
    """Return these words of the address that say something, for hidden fields of a form that has others."""
    return [(name, request.GET[name]) for name in names if request.GET.get(name)]


def read_page_number(request: HttpRequest) -> int:
    """Return the page that the address names, counted from 1; anything else is the first."""
    asked = request.GET.get("page", "")
    return max(1, int(asked)) if re.fullmatch("[0-9]{1,4}", asked) else 1


def build_page_links(
    request: HttpRequest, page: int, total: int, size: int, **more: object
) -> dict[str, object]:
    """Return the number of this page, how many there are, and the addresses of those beside it."""
    pages = max(1, ceil(total / size))
    return {
        "page": page,
        "pages": pages,
        "earlier": make_query(request, **more, page=min(page - 1, pages)) if page > 1 else "",
        "later": make_query(request, **more, page=page + 1) if page < pages else "",
    }


def make_query(request: HttpRequest, **changes: object) -> str:
    """Return the query of the address with some of its words changed; empty ones are left out."""
    known = {name: request.GET.get(name, "") for name in (*FILTER_WORDS, "page")}
    query = urlencode({name: value for name, value in {**known, **changes}.items() if value})
    return f"?{query}" if query else "?"
