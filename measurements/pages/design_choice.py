"""Designs to choose from, where a form asks which one a device follows."""

from __future__ import annotations

from measurements.disclosure.circles import Viewer
from measurements.queries import designs
from measurements.queries.paging import MOST
from measurements.queries.rows import DesignRow


def designs_by_title(viewer: Viewer) -> tuple[DesignRow, ...]:
    """Every design by its title."""
    found: list[DesignRow] = []
    cursor: str | None = None
    while True:
        listed = designs.listing(viewer, order="title", cursor=cursor, limit=MOST)
        found += listed.results
        cursor = listed.next_cursor
        if cursor is None:
            return tuple(found)
