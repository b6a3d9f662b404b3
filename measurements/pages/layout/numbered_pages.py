"""Pages by number: the one that an address asks for, and the links to the others."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.http import HttpRequest

NEAR = 2  # pages named on either side of this one


@dataclass(frozen=True)
class PageLink:
    """A link to a page. word: its number, or an ellipsis without an address where numbers are left out."""

    word: str
    address: str
    is_here: bool = False


def get_page_number(request: HttpRequest, name: str = "page") -> int:
    """Get the number of the page, from 1; anything else in the address means the first."""
    asked = request.GET.get(name, "")
    return max(1, int(asked)) if re.fullmatch("[0-9]{1,4}", asked) else 1


def list_page_links(request: HttpRequest, count: int, size: int, name: str = "page") -> list[PageLink]:
    """List links to the first, the last and the pages near this one; empty where one page holds all.

    count: rows in all. size: rows of a page.
    """
    last = -(-count // size)
    if last <= 1:
        return []
    here = get_page_number(request, name)
    shown = sorted({1, last, *range(max(1, here - NEAR), min(last, here + NEAR) + 1)})
    links: list[PageLink] = []
    for before, number in zip([0, *shown], shown, strict=False):
        if number > before + 1:
            links.append(PageLink("…", ""))
        links.append(PageLink(str(number), _build_address(request, name, number), number == here))
    return links


def build_next_address(request: HttpRequest, count: int, size: int, name: str = "page") -> str:
    """Build the address of the page after this one; empty on the last."""
    here = get_page_number(request, name)
    return _build_address(request, name, here + 1) if here * size < count else ""


def _build_address(request: HttpRequest, name: str, number: int) -> str:
    asked = request.GET.copy()
    asked[name] = str(number)
    return f"?{asked.urlencode()}"
