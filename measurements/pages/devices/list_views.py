"""Devices by what is due, a page at a time, and the readiness board: counts that are filters."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import rendering, upkeep_wording
from measurements.pages.layout.device_filters import (
    build_page_links,
    list_chosen_filters,
    list_kept_words,
    make_query,
    read_filters,
    read_page_number,
)
from measurements.pages.layout.state_renewal import read_renewed
from measurements.selectors.devices import accesses
from measurements.selectors.kit import hands
from measurements.selectors.nights import after_night
from measurements.selectors.upkeep import due_devices, readiness
from measurements.selectors.upkeep.device_filters import WAITING, DueFilter
from measurements.selectors.upkeep.due_devices import PAGE_SIZE
from measurements.selectors.upkeep.readiness import Board, BoardRow

BOARDS = {"place": "Place", "owner": "Owner", "month": "Due in"}
BOARD_PAGE_SIZE = 40
NO_PLACE = "no place"


def show_device_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the devices that the viewer may see, the most urgent first; filters in the address."""
    wanted, page = read_filters(request), read_page_number(request)
    found = read_renewed(viewer, lambda: due_devices.list_devices_by_urgency(viewer, wanted, page=page))
    context = {
        "devices": [(row, upkeep_wording.get_state_badge(row.state)) for row in found.rows],
        "wanted": wanted,
        "total": found.total,
        "states": _list_state_links(request, found.counts, wanted),
        "chosen": list_chosen_filters(request, wanted),
        "kept_words": list_kept_words(request, "state", "group", "owner", "place", "month"),
        "meanings": upkeep_wording.STATE_BADGES.values(),
        "filtered": wanted != DueFilter(),
        "sees_others": viewer.is_steward or viewer.is_keeper,
        "marks_due": viewer.is_operator,
        "due_query": make_query(request, page=""),
        "requests": accesses.list_requests(viewer),
        "offers": hands.list_offers(viewer),
        "own_nights": after_night.list_own_nights(viewer),
        "on_bench": accesses.list_open_devices(viewer),
        **build_page_links(request, page, found.total, PAGE_SIZE),
    }
    return rendering.render_page(request, "devices/list.html", context)


def show_board(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: how many devices are in each state, by place, owner or month; every count leads to its devices."""
    by = request.GET.get("by", "")
    by = by if by in BOARDS else "place"
    wanted, page = read_filters(request), read_page_number(request)
    found = read_renewed(viewer, lambda: readiness.count_by(viewer, wanted, by))
    shown = found.rows[(page - 1) * BOARD_PAGE_SIZE : page * BOARD_PAGE_SIZE]
    states = [state for state in readiness.STATES if found.counts[state]]
    context = {
        "by": by,
        "heading": BOARDS[by],
        "boards": [
            (word, make_query(request, by=code, page=""), code == by) for code, word in BOARDS.items()
        ],
        "states": [upkeep_wording.get_state_badge(state) for state in states],
        "rows": [_present_board_row(request, by, row, states) for row in shown],
        "totals": _present_totals(request, found, states),
        "board": found,
        "chosen": list_chosen_filters(request, wanted),
        **build_page_links(request, page, len(found.rows), BOARD_PAGE_SIZE, by=by),
    }
    return rendering.render_page(request, "devices/board.html", context)


def _present_board_row(request: HttpRequest, by: str, row: BoardRow, states: list[str]) -> dict[str, object]:
    """Present a row as links to the list: one for each count, one for all of them."""
    # an empty word in the address is no filter, so devices without a place have a word of their own
    value = row.value or "-"
    cells = [
        (row.counts[state], _link_to_list(request, by=value, of=by, state=state), badge)
        for state in states
        for badge in [upkeep_wording.get_state_badge(state)]
    ]
    return {
        "label": row.label or NO_PLACE,
        "cells": cells,
        "total": row.total,
        "href": _link_to_list(request, by=value, of=by, state=""),
    }


def _link_to_list(request: HttpRequest, *, by: str, of: str, state: str) -> str:
    query = make_query(request, **{of: by}, state=state, page="")
    return f"{reverse('pages:devices')}{query}"


def _present_totals(request: HttpRequest, board: Board, states: list[str]) -> list[tuple[int, str]]:
    every = f"{reverse('pages:devices')}"
    return [(board.counts[state], f"{every}{make_query(request, state=state, page='')}") for state in states]


def _list_state_links(
    request: HttpRequest, counts: dict[str, int], wanted: DueFilter
) -> list[dict[str, object]]:
    """Return the states as links, each with how many devices are in it."""
    every = sum(counts.values())
    due = every - counts["serviceable"] - counts[WAITING]
    rows = [("", "All", None, every), ("due", "To do", None, due)]
    rows += [
        (code, said.word, said, counts[code])
        for code in readiness.STATES
        for said in [upkeep_wording.get_state_badge(code)]
    ]
    return [
        {
            "href": make_query(request, state=code, page=""),
            "word": word,
            "said": said,
            "count": count,
            "current": wanted.state == code,
        }
        for code, word, said, count in rows
        if count or code == wanted.state or not code
    ]
