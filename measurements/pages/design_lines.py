"""Designs as lines of the list: what its columns show and how its heads sort."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest

from measurements.pages import figures, question, standing
from measurements.pages.forms.find import ORDER_WORDS
from measurements.pages.question import Words
from measurements.pages.standing import Standing
from measurements.pages.tray import Tray
from measurements.queries.rows import DesignRow

HEADS = {"title": "Design", "verdict": "Verdict", "devices": "Devices", "rejection": "Median, dB"}


@dataclass(frozen=True)
class Line:
    """A design. overall: over all bands asked, None where none were: then `met` counts bands.

    devices and median: over the bands asked; without, the most devices and the mean of the medians.
    add_address: the same list with this design gathered; empty where it is or nothing more fits.
    """

    row: DesignRow
    overall: Standing | None
    met: str
    devices: str
    median: str
    bands: tuple[Standing, ...]
    gathered: bool
    add_address: str


@dataclass(frozen=True)
class Head:
    """A column that sorts by its link. `first` says which end comes first, `sorted` the same for machines."""

    title: str
    address: str
    chosen: bool
    first: str
    sorted: str


def lines(request: HttpRequest, rows: tuple[DesignRow, ...], tray: Tray) -> list[Line]:
    """The lines of a page of the list."""
    return [_line(request, row, tray) for row in rows]


def _line(request: HttpRequest, row: DesignRow, tray: Tray) -> Line:
    asked = row.joint or (row.evidence[0] if len(row.evidence) == 1 else None)
    over = [asked] if asked else [each for each in row.evidence if each["devices"] is not None]
    medians = [each["rejection_db"]["median"] for each in over]
    known = [median for median in medians if median is not None]
    met = sum(each["verdict"] == "typically_meets" for each in row.evidence)
    return Line(
        row=row,
        overall=standing.of(asked) if asked else None,
        met=f"meets on {met} of {len(row.evidence)} bands" if over else "too few",
        devices=_most([each["devices"] for each in over]),
        median=figures.plain(sum(known) / len(known) if known else None),
        bands=tuple(standing.of(each) for each in row.evidence),
        gathered=tray.holds(row.key),
        add_address="" if tray.full or tray.holds(row.key) else with_tray(request, tray.plus(row.key)),
    )


def _most(counts: list[int | str | None]) -> str:
    """The largest count; ranges such as `5-9` go by their lower end."""
    known = [count for count in counts if count is not None]
    if not known:
        return figures.NONE
    return str(max(known, key=lambda count: int(str(count).split("-")[0]))).replace("-", "–")


def heads(request: HttpRequest, order: str) -> list[Head]:
    """The columns in their order; the place in the list is left behind."""
    return [
        Head(
            title,
            _with(request, [("order", name)], without=("order", "cursor")),
            name == order,
            ORDER_WORDS[name],
            "ascending" if name == "title" else "descending",
        )
        for name, title in HEADS.items()
    ]


def with_tray(request: HttpRequest, tray: Tray) -> str:
    """This list with that tray."""
    return _with(request, tray.words, without=("design",))


def _with(request: HttpRequest, more: Words, without: tuple[str, ...]) -> str:
    kept = [
        (name, value)
        for name, values in request.GET.lists()
        if name not in without
        for value in values
        if value
    ]
    return question.address("", kept, more) + "#found" if kept or more else "?#found"
