"""The guide's pages in their order, and where on them a kind and method stands."""

from __future__ import annotations

from measurements.pages.guide import balance, common_mode, in_situ, insertion_loss, load_match
from measurements.pages.guide.entry import Entry, Section

ENTRIES: tuple[Entry, ...] = (
    common_mode.ENTRY,
    load_match.ENTRY,
    insertion_loss.ENTRY,
    balance.ENTRY,
    in_situ.ENTRY,
)
BY_KIND = {entry.kind: entry for entry in ENTRIES}
BENCH, FLAGS, SERVICE = "bench", "flags", "service"
TOPICS = (*BY_KIND, BENCH, FLAGS, SERVICE)


def section(kind: str, method: str | None) -> Section:
    """The section of a kind and method; KeyError where the contract knows none."""
    found = [each for each in BY_KIND[kind].sections if each.method == method]
    if not found:
        raise KeyError(f"{kind}.{method}")
    return found[0]
