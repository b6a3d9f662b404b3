"""Collects what service states are judged from, for many devices in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from measurements.disclosure.circles import Viewer
from measurements.models import Device, Inspection, Result, Test
from measurements.queries import tests, upkeep_rules
from measurements.verdict.service_facts import DeviceFacts, InspectionFact
from measurements.verdict.test_facts import TestFact, fact_of

# the parts of stored figures that upkeep reads: a list of devices need not load the rest
_PARTS = ("kind", "method", "bands", "flags", "summary")


def of_devices(viewer: Viewer, devices: Sequence[Device]) -> dict[int, DeviceFacts]:
    """Row number of each device -> its facts, out of the tests that the viewer may see.

    devices: with design, contributor and baseline at hand.
    """
    tests_by_device = _tests(viewer, devices)
    looks = _inspections(devices)
    return {
        device.pk: DeviceFacts(
            purpose=device.design.purpose,
            principle=device.design.principle,
            registered_on=device.registered_at.date(),
            tests=tuple(tests_by_device.get(device.pk, ())),
            inspection=looks.get(device.pk),
            baseline=device.baseline.key if device.baseline is not None else "",
            due_since=device.due_since,
            due_reason=device.due_reason,
            retired_on=device.retired_on,
        )
        for device in devices
    }


def _tests(viewer: Viewer, devices: Iterable[Device]) -> dict[int, list[TestFact]]:
    """Every device's tests, the newest first."""
    limits = upkeep_rules.limits()
    seen = Test.objects.filter(tests.within_reach(viewer), device__in=[device.pk for device in devices])
    rows = (
        Result.objects.filter(current=True, test__in=seen)
        .order_by("-test__measured_on", "-test__pk")
        .values_list(
            "test__device_id",
            "test__key",
            "test__measured_on",
            "test__excluded_reason",
            *(f"figures__{part}" for part in _PARTS),
        )
    )
    found: dict[int, list[TestFact]] = {}
    for device, key, measured_on, excluded_reason, *parts in rows:
        result: dict[str, Any] = dict(zip(_PARTS, parts, strict=True))
        fact = fact_of(
            key=key,
            measured_on=measured_on,
            result=result,
            limits=limits,
            excluded_reason=excluded_reason,
        )
        found.setdefault(device, []).append(fact)
    return found


def _inspections(devices: Iterable[Device]) -> dict[int, InspectionFact]:
    """Every device's newest inspection."""
    rows = Inspection.objects.filter(device__in=[device.pk for device in devices]).order_by(
        "inspected_on", "pk"
    )
    return {
        device: InspectionFact(on, {item: given["state"] for item, given in findings.items()})
        for device, on, findings in rows.values_list("device_id", "inspected_on", "findings")
    }
