"""The shape of a page of the guide that belongs to no single kind of test."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.pages.guide.page_structure import Table

Picture = tuple[str, str | None, str]  # kind, method and role of a drawing


@dataclass(frozen=True)
class Part:
    """One section of a page. form: blank fields to fill in on paper. see: slug and title of another page.

    doors: where the reader goes on: name of the address, and the words of its link.
    """

    title: str
    text: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    form: tuple[str, ...] = ()
    see: tuple[str, str] | None = None
    doors: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class GuidePage:
    """One page. slug: its address; its cautions are the row `guide.<slug>` of the table."""

    slug: str
    title: str
    question: str
    lead: str
    parts: tuple[Part, ...]
