"""A device's history as one list, the newest first: tests, inspections, pictures, marks, its life."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.pages.designs import presenters as designs_presenters
from measurements.pages.layout import fault_wording, upkeep_wording, wording
from measurements.pages.layout.wording import Badge
from measurements.pages.tests import presenters
from measurements.selectors.designs import designs
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.tests.tests import TestRow
from measurements.selectors.upkeep import fault_searches, inspections, photos
from measurements.selectors.upkeep.rows import ItemStateRow, ReasonRow, RestsOnRow, ServiceRow

MAX_INSPECTIONS = 50


@dataclass(frozen=True)
class HistoryEntry:
    """One thing that happened. said: its shape and colour; None for plain facts. order: within a day."""

    on: date
    title: str
    detail: str
    href: str = ""
    said: Badge | None = None
    order: int = 0


def is_own(viewer: Viewer, device: DeviceRow) -> bool:
    """Say whether the viewer is its owner, or keeps it for the group."""
    return viewer.is_keeper if device.of_group else device.owner == viewer.name


def describe_build(viewer: Viewer, device: DeviceRow) -> list[tuple[str, str]]:
    """Return its recipe in words; of an unknown build what its owner wrote of it."""
    if device.design is not None:
        design = designs.get_design(viewer, device.design)
        return list(designs_presenters.describe_recipe(design.recipe))
    written = (("What it is", device.kind), ("Ratio", device.ratio), ("Make", device.make))
    return [("Build", "not known yet"), *((name, said) for name, said in written if said)]


def build_history(
    viewer: Viewer, device: DeviceRow, state: ServiceRow, tests: Iterable[TestRow], *, first: bool
) -> list[HistoryEntry]:
    """Return first: False for a further page of tests, which shows tests alone."""
    entries = [_present_test(test, state) for test in tests]
    if first:
        entries += [*_list_inspections(viewer, device.key), *_list_fault_searches(viewer, device.key)]
        entries += [*_list_photos(viewer, device.key), *_list_life_events(device, state)]
    return sorted(entries, key=lambda entry: (entry.on, entry.order), reverse=True)


def _present_test(test: TestRow, state: ServiceRow) -> HistoryEntry:
    said, outcome = presenters.summarise_result(test.result)
    if test.kind == "in_situ":
        outcome = said.word
    notes = [outcome.lower(), "counts as evidence" if test.evidence == "counts" else "left out of evidence"]
    if state.baseline is not None and state.baseline.test == test.key:
        notes.append("commissioning" if state.baseline.chosen else "taken as commissioning")
    return HistoryEntry(
        test.measured_on,
        wording.format_method(test.kind, test.method),
        " · ".join(notes),
        reverse("pages:test", kwargs={"key": test.key}),
        said,
        order=2,
    )


def _list_inspections(viewer: Viewer, key: str) -> Iterator[HistoryEntry]:
    for row in inspections.list_inspections(viewer, key, limit=MAX_INSPECTIONS).results:
        named = [
            f"{each.title.lower()}: {each.state}"
            for each in row.findings
            if each.state not in ("ok", "does_not_apply")
        ]
        good = sum(each.state == "ok" for each in row.findings)
        detail = "; ".join([*named, f"{good} good"] if good else named)
        if row.dc_ohm is not None:
            detail = f"{detail} · {row.dc_ohm:g} ohm" if detail else f"{row.dc_ohm:g} ohm"
        yield HistoryEntry(
            row.inspected_on,
            "Inspection",
            detail,
            reverse("pages:inspection", kwargs={"key": row.key}),
            upkeep_wording.INSPECTION_STATES[row.worst or "not_looked"],
            order=3,
        )


def _list_fault_searches(viewer: Viewer, key: str) -> Iterator[HistoryEntry]:
    for row in fault_searches.list_fault_searches(viewer, key):
        finding = fault_wording.get_search_finding(row.finding)[0] if row.finding else "not ended yet"
        yield HistoryEntry(
            timezone.localdate(row.begun_at),
            f"Fault search: {fault_wording.SYMPTOMS[row.symptom][0]}",
            finding,
            reverse("pages:fault_search", kwargs={"key": row.key}),
            order=4,
        )


def _list_photos(viewer: Viewer, key: str) -> Iterator[HistoryEntry]:
    for row in photos.list_photos(viewer, key):
        href = reverse("pages:photo", kwargs={"key": row.key})
        yield HistoryEntry(timezone.localdate(row.added_at), "Picture", row.caption, href, order=4)


def _list_life_events(device: DeviceRow, state: ServiceRow) -> Iterator[HistoryEntry]:
    if state.due_since is not None:
        said = upkeep_wording.STATE_BADGES["overdue"]
        yield HistoryEntry(state.due_since, "Marked as due", state.due_reason, said=said, order=5)
    if device.retired_on is not None:
        yield HistoryEntry(device.retired_on, "Out of service for good", "", order=6)
    if device.built_on is not None:
        yield HistoryEntry(device.built_on, "Built", "")
    yield HistoryEntry(timezone.localdate(device.registered_at), "Registered here", "", order=1)


# A service state as a page shows it: words, shapes, and where the next step leads.


@dataclass(frozen=True)
class StatePresentation:
    """row: the state itself. reasons: each with its shape. step_href: where the next step is made.

    basis: kind and day -> its figures band by band. items: of the check list, each with its shape.
    """

    row: ServiceRow
    said: Badge
    reasons: tuple[tuple[ReasonRow, Badge | None], ...]
    step_href: str
    step_words: str
    due_on: date | None
    yardstick: str
    basis: tuple[tuple[str, str], ...]
    items: tuple[tuple[ItemStateRow, Badge], ...]


def present_state(row: ServiceRow, *, own: bool) -> StatePresentation:
    """Return everything that a page needs of it. own: only an owner's upload form offers the device."""
    href, said = _get_next_step(row) if own or row.next_step.code != "test" else ("", "")
    return StatePresentation(
        row=row,
        said=upkeep_wording.STATE_BADGES[row.state],
        reasons=tuple((reason, upkeep_wording.STATE_BADGES.get(reason.weight)) for reason in row.reasons),
        step_href=href,
        step_words=said,
        due_on=row.due_on,
        yardstick=upkeep_wording.describe_repeatability(row.repeatability),
        basis=tuple(_group_basis(row)),
        items=tuple((item, upkeep_wording.INSPECTION_STATES[item.state]) for item in row.items),
    )


def _group_basis(row: ServiceRow) -> Iterator[tuple[str, str]]:
    """Yield what the state rests on, a test at a time: kind, day and limit, and its figures band by band."""
    found = sorted(row.rests_on, key=lambda each: (each.kind != row.rests_on[0].kind, each.kind, each.test))
    for _, rows in groupby(found, key=lambda each: (each.kind, each.test)):
        first, *others = rows
        on, limit = first.answered_on, f", {first.limit}" if first.limit else ""
        title = f"{wording.KINDS.get(first.kind, first.kind)}, {on.day} {on:%B %Y}{limit}"
        figures = [_shorten_figure(each) for each in (first, *others)]
        yield title, ", ".join(figures)


def _shorten_figure(row: RestsOnRow) -> str:
    """Return band and figure without the name of the figure, such as "40m 30.9 dB"."""
    if row.band is None:
        return row.figure
    return f"{row.band} {row.figure.removeprefix('rejection ').removeprefix('loss ').removeprefix('SWR ')}"


def _get_next_step(row: ServiceRow) -> tuple[str, str]:
    of_device = {"key": row.device}
    code = row.next_step.code
    if code == "test":
        query = urlencode(
            {"device": row.device, **({"kind": row.next_step.kind} if _has_one_method(row) else {})}
        )
        return f"{reverse('pages:upload')}?{query}", "Add the test"
    if code in ("inspect", "mend"):
        return reverse("pages:inspect", kwargs=of_device), "Inspect it"
    if code == "find_fault":
        return reverse("pages:fault_begin", kwargs=of_device), "Find the fault"
    if code == "commission":
        return reverse("pages:baseline", kwargs=of_device), "Choose the test"
    return "", ""


def _has_one_method(row: ServiceRow) -> bool:
    """Return insertion loss asks for a method first, so its form cannot be opened at once."""
    return row.next_step.kind in ("common_mode", "load_match", "balance")
