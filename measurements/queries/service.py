"""Service states: of one device in full, of many by what is due."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import cache

from django.db.models import QuerySet
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.models import Device
from measurements.queries import devices, repeatability, upkeep_facts, upkeep_rules
from measurements.queries.rows_of_upkeep import (
    BaselineRow,
    ChangeRow,
    LimitsRow,
    NextStepRow,
    ReasonRow,
    ServiceRow,
    YardstickRow,
)
from measurements.verdict.service_facts import Case, DeviceFacts, Rules, Service
from measurements.verdict.service_state import judge

Yardsticks = Callable[[int], YardstickRow]


def state_of(viewer: Viewer, key: str) -> ServiceRow:
    """A device's service state with its reasons. Raises BenchnightError `device.not_found`."""
    policy.check_signed_in(viewer)
    device = with_all().filter(key=key).first()
    if device is None:
        raise policy.missing("device")
    policy.check_see_device(viewer, devices.ownership(device))
    facts = upkeep_facts.of_devices(viewer, [device])[device.pk]
    yardsticks = once_each()
    service = judged(device, facts, today(), upkeep_rules.rules(), yardsticks)
    return _row(viewer, device, facts, service, yardsticks(device.contributor_id))


def with_all() -> QuerySet[Device]:
    """Devices with what a state needs of them."""
    return Device.objects.select_related("design", "contributor__member", "baseline")


def judged(device: Device, facts: DeviceFacts, on: date, rules: Rules, yardsticks: Yardsticks) -> Service:
    """The state on a day; the yardstick is looked up only where a change asks for it."""
    return judge(Case(facts, rules, on, lambda: yardsticks(device.contributor_id).real_from_db))


def once_each() -> Yardsticks:
    """Yardsticks by contributor, each computed at most once a request."""
    return cache(repeatability.yardstick)


def today() -> date:
    """By UTC, as all days here."""
    return timezone.now().date()


def _row(
    viewer: Viewer, device: Device, facts: DeviceFacts, service: Service, yardstick: YardstickRow
) -> ServiceRow:
    newest = facts.newest(*facts.telling)
    baseline = service.baseline
    own = viewer.is_steward or device.contributor.member_id == viewer.member_id
    return ServiceRow(
        device=device.key,
        state=service.state,
        reasons=tuple(ReasonRow(each.code, each.weight, each.message, each.band) for each in service.reasons),
        next_step=NextStepRow(service.next_step.code, service.next_step.message, service.next_step.kind),
        due_on=service.due_on,
        due_since=device.due_since,
        due_reason=device.due_reason,
        retired_on=device.retired_on,
        baseline=None
        if baseline is None
        else BaselineRow(baseline.test.key, baseline.test.kind, baseline.test.measured_on, baseline.chosen),
        newest_test=None if newest is None else newest.key,
        change=_change(facts, service, yardstick, upkeep_rules.rules()),
        repeatability=yardstick,
        limits=_limits(),
        judged_on=today(),
        own_nights_only=not own,
    )


def _change(
    facts: DeviceFacts, service: Service, yardstick: YardstickRow, rules: Rules
) -> tuple[ChangeRow, ...]:
    """Per band the newest common-mode test against the baseline; nothing where they are one test."""
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


def _limits() -> LimitsRow:
    limits, rules = upkeep_rules.limits(), upkeep_rules.rules()
    return LimitsRow(
        benchmark_db=limits.get("common_mode", 20.0),
        swr=limits.get("load_match", 1.5),
        loss_db=limits.get("insertion_loss", 0.5),
        test_interval_days=rules.test_interval_days,
        inspection_interval_days=rules.inspection_interval_days,
        watch_margin_db=rules.watch_margin_db,
        drift_db=rules.drift_db,
    )
