"""Pages by number: links to the first, the last and the near ones, with the rest of the address kept."""

from __future__ import annotations

import pytest
from django.test import RequestFactory

from measurements.pages.layout.numbered_pages import get_page_number, list_page_links


def links(address: str, count: int, size: int = 10) -> list[str]:
    request = RequestFactory().get(address)
    return [f"[{each.word}]" if each.is_here else each.word for each in list_page_links(request, count, size)]


def test_one_page_needs_no_links():
    assert links("/", 0) == links("/", 10) == []


def test_near_pages_and_both_ends_are_named():
    assert links("/", 11) == ["[1]", "2"]
    assert links("/?page=10", 200) == ["1", "…", "8", "9", "[10]", "11", "12", "…", "20"]
    assert links("/?page=3", 200)[:4] == ["1", "2", "[3]", "4"]


def test_a_link_keeps_the_filters():
    request = RequestFactory().get("/?kind=dc&page=2")
    assert list_page_links(request, 30, 10)[-1].address == "?kind=dc&page=3"


@pytest.mark.parametrize("word", ["", "0", "-1", "x", "1e3", "99999", "²"])
def test_what_is_no_number_is_the_first_page(word):
    assert get_page_number(RequestFactory().get("/", {"page": word})) == 1
