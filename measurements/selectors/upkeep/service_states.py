"""Service states: of one device in full, of many by what is due."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from django.db.models import QuerySet
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.fitness.checklist import CHECKLIST_ITEMS, ChecklistItem
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.fitness.service_facts import (
    DeviceFacts,
    MarkFact,
    ServiceAssessment,
    ServiceCase,
    ServiceRules,
)
from measurements.fitness.service_state import assess_device
from measurements.fitness.standing_marks import list_standing_marks
from measurements.fitness.test_facts import TestFact
from measurements.models import Device
from measurements.selectors.devices import devices
from measurements.selectors.upkeep import repeatability, upkeep_facts
from measurements.selectors.upkeep.rows import (
    BaselineRow,
    ChangeRow,
    ItemStateRow,
    LimitsRow,
    NextStepRow,
    ReasonRow,
    RepeatabilityRow,
    RestsOnRow,
    ServiceRow,
)

KIND = "common_mode"
RepeatabilityLookup = Callable[[int, str], RepeatabilityRow]


def get_service_state(viewer: Viewer, key: str) -> ServiceRow:
    """Return a device's service state with its reasons. Raises BenchnightError `device.not_found`."""
    policy.check_signed_in(viewer)
    device = select_devices().filter(key=key).first()
    if device is None:
        raise policy.build_not_found("device")
    policy.check_see_device(viewer, devices.get_device_ownership(device))
    facts = upkeep_facts.get_device_facts(viewer, [device])[device.pk]
    yardsticks = build_repeatability_lookup([device])
    service = judge_device(device, facts, get_today(), upkeep_facts.get_service_rules(), yardsticks)
    return _service_row(viewer, device, facts, service, yardsticks(device.contributor_id, KIND))


def select_devices() -> QuerySet[Device]:
    """Return devices with what a state needs of them."""
    return Device.objects.select_related("design", "contributor__member", "baseline")


def judge_device(
    device: Device, facts: DeviceFacts, on: date, rules: ServiceRules, yardsticks: RepeatabilityLookup
) -> ServiceAssessment:
    """Return the state on a day; the yardstick is looked up only where a change asks for it."""
    return assess_device(
        ServiceCase(facts, rules, on, lambda kind: yardsticks(device.contributor_id, kind).real_from_db)
    )


def build_repeatability_lookup(devices: Iterable[Device]) -> RepeatabilityLookup:
    """Return yardsticks of the devices' contributors by kind: those of a kind are computed together, once."""
    contributors = {device.contributor_id for device in devices}
    by_kind = cache(lambda kind: repeatability.get_repeatabilities(contributors, kind))
    return lambda contributor, kind: by_kind(kind)[contributor]


def get_today() -> date:
    """Return by UTC, as all days here."""
    return timezone.localdate()


def _service_row(
    viewer: Viewer,
    device: Device,
    facts: DeviceFacts,
    service: ServiceAssessment,
    yardstick: RepeatabilityRow,
) -> ServiceRow:
    newest = facts.newest(*facts.telling)
    baseline = service.baseline
    mark = next((found for found, _ in list_standing_marks(facts)), None)
    own = viewer.is_steward or device.contributor.member_id == viewer.member_id
    rules = upkeep_facts.get_service_rules()
    return ServiceRow(
        device=device.key,
        state=service.state,
        reasons=tuple(ReasonRow(each.code, each.weight, each.message, each.band) for each in service.reasons),
        next_step=NextStepRow(service.next_step.code, service.next_step.message, service.next_step.kind),
        due_on=service.due_on,
        due_since=mark.since if mark is not None else None,
        due_reason=_format_mark(mark),
        retired_on=device.retired_on,
        baseline=None
        if baseline is None
        else BaselineRow(baseline.test.key, baseline.test.kind, baseline.test.measured_on, baseline.chosen),
        newest_test=None if newest is None else newest.key,
        change=_change_rows(facts, service, yardstick, rules),
        repeatability=yardstick,
        limits=_limits_row(),
        judged_on=get_today(),
        own_nights_only=not own,
        rests_on=tuple(
            RestsOnRow(row.kind, row.band, row.message, row.figure, row.limit, row.answered_on, row.test)
            for row in service.rests_on
        ),
        not_covered=service.not_covered,
        items=tuple(_item_state_row(item, facts, rules) for item in CHECKLIST_ITEMS),
    )


def _format_mark(mark: MarkFact | None) -> str:
    """Return what happened and what somebody wrote of it; empty where no mark stands."""
    if mark is None:
        return ""
    title = "" if mark.event == "other" else DUE_EVENTS_BY_CODE[mark.event].title
    return ": ".join(part for part in (title, mark.reason) if part)


def _item_state_row(item: ChecklistItem, facts: DeviceFacts, rules: ServiceRules) -> ItemStateRow:
    answer = facts.items.get(item.code)
    if answer is None:
        return ItemStateRow(item.code, item.title, "not_looked", None)
    recent = answer.on + timedelta(days=rules.inspection_interval_days) >= get_today()
    asked = answer.state != "does_not_apply" and not (recent and answer.state == "ok")
    return ItemStateRow(item.code, item.title, answer.state, answer.on, asked)


def _change_rows(
    facts: DeviceFacts, service: ServiceAssessment, yardstick: RepeatabilityRow, rules: ServiceRules
) -> tuple[ChangeRow, ...]:
    """Return per band the newest common-mode test against the baseline; nothing where they are one test."""
    baseline = service.baseline
    newest = facts.newest("common_mode")
    if baseline is None or newest is None or baseline.test.kind != "common_mode":
        return ()
    if newest.key == baseline.test.key:
        return ()
    rows = []
    for band in newest.bands:
        before = baseline.test.by_band.get(band.band)
        if before is None or before.worst is None or band.worst is None:
            continue
        change_db = band.worst - before.worst
        real_from_db = yardstick.real_from_db.get(band.band)
        rows.append(
            ChangeRow(
                band=band.band,
                baseline_db=round(before.worst, 2),
                newest_db=round(band.worst, 2),
                change_db=round(change_db, 2),
                allowed_db=rules.drift_db,
                real_from_db=real_from_db,
                real=None if real_from_db is None else abs(change_db) > real_from_db,
                beyond_allowed=abs(change_db) > rules.drift_db,
            )
        )
    return tuple(rows)


def _limits_row() -> LimitsRow:
    limits, rules = upkeep_facts.get_limits_by_kind(), upkeep_facts.get_service_rules()
    return LimitsRow(
        benchmark_db=limits.get("common_mode", 20.0),
        swr=limits.get("load_match", 1.5),
        loss_db=limits.get("insertion_loss", 0.5),
        test_interval_days=rules.test_interval_days,
        inspection_interval_days=rules.inspection_interval_days,
        watch_margin_db=rules.watch_margin_db,
        drift_db=rules.drift_db,
        drift_loss_db=rules.drift_loss_db,
        drift_swr=rules.drift_swr,
    )


# A device's common-mode tests over time, band by band.


@dataclass(frozen=True)
class TrendPoint:
    """One test on one band. counts: it is believed. at_least: the jig hides how much better it is."""

    test: str
    measured_on: date
    rejection_db: float
    counts: bool
    at_least: bool


@dataclass(frozen=True)
class TrendRow:
    """by_band: name -> its points, the oldest first; bands in the order of the plan."""

    device: str
    by_band: dict[str, tuple[TrendPoint, ...]]

    @property
    def bands(self) -> tuple[str, ...]:
        return tuple(self.by_band)


def get_device_trend(viewer: Viewer, key: str) -> TrendRow:
    """Return the tests that the viewer may see. Raises BenchnightError `device.not_found`."""
    policy.check_signed_in(viewer)
    device = select_devices().filter(key=key).first()
    if device is None:
        raise policy.build_not_found("device")
    policy.check_see_device(viewer, devices.get_device_ownership(device))
    facts = upkeep_facts.get_device_facts(viewer, [device])[device.pk]
    tests = [test for test in reversed(facts.tests) if test.kind == KIND]
    names = list(dict.fromkeys(band.band for test in tests for band in test.bands))
    by_band = {name: _trend_points(tests, name) for name in names}
    return TrendRow(key, {name: points for name, points in by_band.items() if points})


def _trend_points(tests: list[TestFact], name: str) -> tuple[TrendPoint, ...]:
    found = []
    for test in tests:
        band = test.by_band.get(name)
        if band is not None and band.worst is not None:
            found.append(
                TrendPoint(test.key, test.measured_on, round(band.worst, 2), test.believed, band.at_least)
            )
    return tuple(found)
