"""A device's history as one list, the newest first: tests, inspections, pictures, marks, its life."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.pages import metrics, words, words_of_upkeep
from measurements.pages.words import OWN, Said
from measurements.queries import fault_searches, inspections, photos
from measurements.queries.rows import DeviceRow, TestRow
from measurements.queries.rows_of_upkeep import ServiceRow

MOST_LOOKS = 50


@dataclass(frozen=True)
class Entry:
    """One thing that happened. said: its shape and colour; None for plain facts. order: within a day."""

    on: date
    title: str
    detail: str
    href: str = ""
    said: Said | None = None
    order: int = 0


def of_device(
    viewer: Viewer, device: DeviceRow, state: ServiceRow, tests: Iterable[TestRow], *, first: bool
) -> list[Entry]:
    """first: False for a further page of tests, which shows tests alone."""
    entries = [_test(test, state) for test in tests]
    if first:
        entries += [*_looks(viewer, device.key), *_searches(viewer, device.key)]
        entries += [*_pictures(viewer, device.key), *_life(device, state)]
    return sorted(entries, key=lambda entry: (entry.on, entry.order), reverse=True)


def _test(test: TestRow, state: ServiceRow) -> Entry:
    said, outcome = metrics.overall(metrics.band_lines(test.result))
    finding = test.result["summary"].get("finding")
    if finding:
        found = words_of_upkeep.OUTCOMES[finding]
        said, outcome = found, found.word
    notes = [outcome.lower(), "counts as evidence" if test.evidence == "counts" else "left out of evidence"]
    if state.baseline is not None and state.baseline.test == test.key:
        notes.append("commissioning" if state.baseline.chosen else "taken as commissioning")
    return Entry(
        test.measured_on,
        words.method(test.kind, test.method),
        " · ".join(notes),
        reverse("pages:test", kwargs={"key": test.key}),
        said if test.kind != "in_situ" or finding else OWN[None],
        order=2,
    )


def _looks(viewer: Viewer, key: str) -> Iterator[Entry]:
    for row in inspections.listing(viewer, key, limit=MOST_LOOKS).results:
        named = [f"{each.title.lower()}: {each.state}" for each in row.findings if each.state != "ok"]
        good = sum(each.state == "ok" for each in row.findings)
        detail = "; ".join([*named, f"{good} good"] if good else named)
        if row.dc_ohm is not None:
            detail = f"{detail} · {row.dc_ohm:g} ohm" if detail else f"{row.dc_ohm:g} ohm"
        yield Entry(
            row.inspected_on,
            "Inspection",
            detail,
            reverse("pages:inspection", kwargs={"key": row.key}),
            words_of_upkeep.LOOKS[row.worst or "not_looked"],
            order=3,
        )


def _searches(viewer: Viewer, key: str) -> Iterator[Entry]:
    for row in fault_searches.of_device(viewer, key):
        finding = words_of_upkeep.FOUND[row.finding][0] if row.finding else "not ended yet"
        yield Entry(
            row.begun_at.date(),
            f"Fault search: {words_of_upkeep.SYMPTOMS[row.symptom][0]}",
            finding,
            reverse("pages:fault_search", kwargs={"key": row.key}),
            order=4,
        )


def _pictures(viewer: Viewer, key: str) -> Iterator[Entry]:
    for row in photos.of_device(viewer, key):
        href = reverse("pages:photo", kwargs={"key": row.key})
        yield Entry(row.added_at.date(), "Picture", row.caption, href, order=4)


def _life(device: DeviceRow, state: ServiceRow) -> Iterator[Entry]:
    if state.due_since is not None:
        said = words_of_upkeep.STATES["overdue"]
        yield Entry(state.due_since, "Marked as due", state.due_reason, said=said, order=5)
    if device.retired_on is not None:
        yield Entry(device.retired_on, "Out of service for good", "", order=6)
    if device.built_on is not None:
        yield Entry(device.built_on, "Built", "")
    yield Entry(device.registered_at.date(), "Registered here", "", order=1)
