"""Fault searches of a device: how far they are, what comes next, what they found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.fitness import fault_search
from measurements.fitness.fault_search import Conclusion
from measurements.fitness.service_facts import list_decisive_kinds
from measurements.models import FaultSearch, Inspection
from measurements.selectors.devices import devices


@dataclass(frozen=True)
class FaultStepRow:
    """A step that was made. test, inspection: keys, "" where it has none, or where that was deleted since."""

    step: str
    outcome: str
    test: str
    inspection: str
    on: date


@dataclass(frozen=True)
class FaultSearchRow:
    """A search. next_step and why: "" once it has ended; finding, conclusions, missing: empty until then."""

    key: str
    device: str
    device_tag: str
    symptom: str
    band: str
    begun_at: datetime
    ended_at: datetime | None
    steps: tuple[FaultStepRow, ...]
    next_step: str
    why: str
    finding: str
    path: tuple[str, ...]
    conclusions: tuple[Conclusion, ...]
    missing: tuple[str, ...]


def get_fault_search(viewer: Viewer, key: str) -> FaultSearchRow:
    """Return a search. Raises BenchnightError `fault.not_found`."""
    row = FaultSearch.objects.select_related("device__design").filter(key=key).first()
    missing = BenchnightError("fault.not_found", "There is no such fault search of yours.", kind="not_found")
    if row is None:
        raise missing
    try:
        devices.get_device(viewer, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return _fault_search_row(row, _find_existing_keys(row))


def list_fault_searches(viewer: Viewer, device: str) -> tuple[FaultSearchRow, ...]:
    """Return its searches, the newest first, at most 50, their steps without keys.

    Raises BenchnightError `device.not_found`.
    """
    devices.get_device(viewer, device)
    rows = FaultSearch.objects.filter(device__key=device).select_related("device__design").order_by("-pk")
    return tuple(_fault_search_row(row, frozenset()) for row in rows[:50])


def _find_existing_keys(row: FaultSearch) -> frozenset[str]:
    """Return keys of the tests and inspections of its steps that were not deleted since."""
    keys = [given.get("inspection", "") for given in row.answers["steps"]]
    looks = Inspection.objects.filter(key__in=keys).values_list("key", flat=True)
    return frozenset([*row.steps.values_list("test__key", flat=True), *looks])


def _fault_search_row(row: FaultSearch, there: frozenset[str]) -> FaultSearchRow:
    steps = [_fault_step_row(given, there) for given in row.answers["steps"]]
    made = {each.step: each.outcome for each in steps}
    kind = get_device_kind(row)
    following = fault_search.advise_next_step(row.symptom, made, kind)
    return FaultSearchRow(
        key=row.key,
        device=row.device.key,
        device_tag=row.device.tag,
        symptom=row.symptom,
        band=row.answers["band"],
        begun_at=row.begun_at,
        ended_at=row.ended_at,
        steps=tuple(steps),
        next_step="" if following is None else following.step,
        why="" if following is None else following.why,
        finding=row.finding,
        path=fault_search.list_path(row.symptom, kind),
        conclusions=fault_search.conclude(row.symptom, made, kind) if following is None else (),
        missing=fault_search.list_missing_steps(row.symptom, made, kind) if following is None else (),
    )


def get_device_kind(row: FaultSearch) -> fault_search.DeviceKind:
    """Get what the search has to know of its device."""
    design = row.device.design
    if design is None:
        return fault_search.DeviceKind()
    return fault_search.DeviceKind(
        chokes="common_mode" in list_decisive_kinds(design.purpose, design.principle)
    )


def _fault_step_row(given: dict[str, Any], there: frozenset[str]) -> FaultStepRow:
    return FaultStepRow(
        step=given["step"],
        outcome=given["outcome"],
        test=key if (key := given.get("test", "")) in there else "",
        inspection=key if (key := given.get("inspection", "")) in there else "",
        on=date.fromisoformat(given["on"]),
    )
