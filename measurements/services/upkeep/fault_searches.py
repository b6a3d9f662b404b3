"""A fault search: begun with a symptom, carried on step by step, ended by its finding.

Its answers: {"band": name or "", "steps": [{"step", "outcome", "test" or "inspection", "on"}, ...]}, a list,
because a database may keep the names of an object in an order of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.fitness import fault_search
from measurements.fitness.checklist import find_worst_state
from measurements.fitness.fault_search import STEP_KINDS, SYMPTOMS
from measurements.fitness.service_facts import list_decisive_kinds
from measurements.fitness.test_facts import build_test_fact
from measurements.models import Allocation, Device, FaultSearch, FaultStep, Inspection, Result, Test
from measurements.services.devices import devices
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.reference import benchmarks
from measurements.services.tests import tests

MOST_OPEN = 20


def begin_fault_search(*, by: Viewer, device: str, symptom: str, band: str = "") -> WriteResult:
    """Begin a search on a device. band: where the symptom shows; empty for everywhere.

    Raises BenchnightError `fault.symptom`, `fault.band`, `fault.too_many`, `device.not_found`.
    """
    found = devices.get_own_device(by, device)
    if symptom not in SYMPTOMS:
        raise BenchnightError("fault.symptom", f"Choose one of: {', '.join(SYMPTOMS)}.", field="symptom")
    if band and not Allocation.objects.filter(band=band).exists():
        raise BenchnightError("fault.band", "There is no such band.", field="band")
    if found.fault_searches.filter(ended_at=None).count() >= MOST_OPEN:
        raise BenchnightError(
            "fault.too_many", f"A device has up to {MOST_OPEN} open searches. End one first.", kind="too_many"
        )
    with transaction.atomic():
        row = FaultSearch.objects.create(
            device=found, begun_by_id=by.member_id, symptom=symptom, answers={"band": band, "steps": []}
        )
        audit.record_action(by=by, action="fault.begin", subject=row.key, device=found.key)
    return WriteResult(row.key, created=True)


def answer_with_test(*, by: Viewer, search: str, step: str, test: str) -> None:
    """Take a stored test of the device as what this step found.

    Raises BenchnightError `fault.test`, `fault.other_step`, `fault.not_found`.
    """
    row = get_own_fault_search(by, search)
    wanted = STEP_KINDS.get(step)
    found = Test.objects.filter(device=row.device, kind=wanted, key=test).first()
    # what an owner measured at home is not an operator's to look into, not even by its outcome
    if wanted is None or found is None or not policy.can_see_test(by, tests.get_test_ownership(found)):
        raise BenchnightError("fault.test", "Choose a test of this device and of this kind.", field="test")
    outcome = _outcome(found, row.answers["band"])
    given = {"outcome": outcome, "test": found.key, "on": found.measured_on.isoformat()}
    _answer(by, row, step, given, found)


def answer_with_inspection(*, by: Viewer, search: str, step: str, inspection: str) -> None:
    """Take an inspection of the device as what this step found. Raises as `answer_with_test`."""
    row = get_own_fault_search(by, search)
    found = Inspection.objects.filter(device=row.device, key=inspection).first()
    if step != "inspection" or found is None:
        raise BenchnightError("fault.test", "Choose an inspection of this device.", field="inspection")
    outcome = find_worst_state([given["state"] for given in found.findings.values()]) or "ok"
    said = {"ok": "good"}.get(outcome, outcome)
    _answer(
        by, row, step, {"outcome": said, "inspection": found.key, "on": found.inspected_on.isoformat()}, None
    )


def answer_with_choice(*, by: Viewer, search: str, step: str, choice: str) -> None:
    """Take what somebody saw or read as the answer of a step that needs no stored test.

    Raises BenchnightError `fault.choice`, `fault.other_step`, `fault.not_found`.
    """
    row = get_own_fault_search(by, search)
    if choice not in fault_search.CHOICES.get(step, ()):
        raise BenchnightError("fault.choice", "Choose one of the answers.", field="choice")
    _answer(by, row, step, {"outcome": choice, "on": timezone.localdate().isoformat()}, None)


def skip_step(*, by: Viewer, search: str, step: str) -> None:
    """Pass over a step that cannot be made. Raises BenchnightError `fault.other_step`."""
    row = get_own_fault_search(by, search)
    _answer(by, row, step, {"outcome": "skipped", "on": timezone.localdate().isoformat()}, None)


def undo_last_answer(*, by: Viewer, search: str) -> None:
    """Take the last answer back; the test itself stays. Raises BenchnightError `fault.nothing_back`."""
    row = get_own_fault_search(by, search)
    steps = list(row.answers["steps"])
    if not steps:
        raise BenchnightError("fault.nothing_back", "There is no step to go back to.", kind="conflict")
    last = steps.pop()["step"]
    with transaction.atomic():
        _save(row, steps)
        FaultStep.objects.filter(search=row, step=last).delete()
        audit.record_action(by=by, action="fault.back", subject=row.key, step=last)


def delete_fault_search(*, by: Viewer, search: str) -> str:
    """Delete a search, not its tests; answers the key of the device."""
    row = get_own_fault_search(by, search)
    with transaction.atomic():
        audit.record_action(by=by, action="fault.remove", subject=row.key, device=row.device.key)
        row.delete()
    return row.device.key


def get_own_fault_search(by: Viewer, key: str) -> FaultSearch:
    """Return the search, when `by` may alter its device. Raises BenchnightError `fault.not_found`."""
    row = FaultSearch.objects.select_related("device__design").filter(key=key).first()
    missing = BenchnightError("fault.not_found", "There is no such fault search of yours.", kind="not_found")
    if row is None:
        raise missing
    try:
        devices.get_own_device(by, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return row


def get_device_kind(device: Device) -> fault_search.DeviceKind:
    """Get what the search has to know of a device; of an unknown build nothing is taken for granted."""
    design = device.design
    if design is None:
        return fault_search.DeviceKind()
    return fault_search.DeviceKind(
        chokes="common_mode" in list_decisive_kinds(design.purpose, design.principle)
    )


def list_outcomes(steps: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Return step -> outcome, in the order they were made."""
    return {given["step"]: given["outcome"] for given in steps}


def _answer(by: Viewer, row: FaultSearch, step: str, given: dict[str, Any], test: Test | None) -> None:
    steps = list(row.answers["steps"])
    following = fault_search.advise_next_step(row.symptom, list_outcomes(steps), get_device_kind(row.device))
    if following is None or following.step != step:
        raise BenchnightError(
            "fault.other_step",
            "Another step is next; the search went on meanwhile. Open it again.",
            kind="conflict",
        )
    with transaction.atomic():
        _save(row, [*steps, {"step": step, **given}])
        if test is not None:
            FaultStep.objects.get_or_create(search=row, step=step, test=test)
        audit.record_action(
            by=by, action="fault.answer", subject=row.key, step=step, outcome=given["outcome"]
        )


def _save(row: FaultSearch, steps: list[dict[str, Any]]) -> None:
    """Write the steps, and the finding where they are enough. Call inside a transaction."""
    made = list_outcomes(steps)
    device = get_device_kind(row.device)
    ended = fault_search.advise_next_step(row.symptom, made, device) is None
    changed = FaultSearch.objects.filter(pk=row.pk, version=row.version).update(
        answers={**row.answers, "steps": steps},
        finding=fault_search.conclude(row.symptom, made, device)[0].code if ended else "",
        ended_at=timezone.now() if ended else None,
        version=F("version") + 1,
    )
    if not changed:
        raise BenchnightError(
            "fault.other_step",
            "The search went on meanwhile, in another window perhaps. Open it again.",
            kind="conflict",
        )


def _outcome(test: Test, band: str) -> str:
    figures = Result.objects.filter(test=test, current=True).values_list("figures", flat=True).get()
    fact = build_test_fact(
        key=test.key,
        measured_on=test.measured_on,
        result=figures,
        limits=_limits(),
        excluded_reason=test.excluded_reason,
    )
    if fact.dc is not None:
        return fault_search.classify_test_outcome("dc", [fact.dc.meets], "", fact.believed)
    asked = [each for each in fact.bands if each.band == band] if band else list(fact.bands)
    said = fact.finding
    if band and test.kind == "in_situ":
        there = next((each for each in figures["bands"] if each["band"] == band), {})
        said = there.get("finding") or "inconclusive"
    return fault_search.classify_test_outcome(
        test.kind, [each.meets for each in asked], said, fact.believed, band
    )


def _limits() -> dict[str, float]:
    current = benchmarks.get_current_limits()
    return {
        "common_mode": current.benchmark_db,
        "load_match": current.swr,
        "insertion_loss": current.loss_db,
    }
