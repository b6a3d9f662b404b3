"""Collects what service states are judged from, for many devices in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Q
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.fitness.last_answers import InspectionFact, build_inspection_fact
from measurements.fitness.service_facts import DeviceFacts, MarkFact, ServiceRules
from measurements.fitness.test_facts import TestFact, build_test_fact
from measurements.models import Device, DueMark, Inspection, Result, Test, check_standards
from measurements.selectors.reference import reference
from measurements.selectors.tests import tests

# The group's limits, intervals and margins in force, as the rules of upkeep take them.

_LIMIT_METRICS = {("common_mode", "rejection_db"), ("load_match", "swr"), ("insertion_loss", "loss_db")}


def get_service_rules() -> ServiceRules:
    """Return settings of the group: what stewards set, else house defaults."""
    names = (
        "service_test_interval_days",
        "service_inspection_interval_days",
        "service_watch_margin_db",
        "service_drift_db",
        "service_drift_loss_db",
        "service_drift_swr",
    )
    values = reference.get_settings(*names)
    test_days, inspection_days, *changes = (values[name] for name in names)
    return ServiceRules(int(test_days), int(inspection_days), *changes)


def get_limits_by_kind() -> dict[str, float]:
    """Return kind -> the limit in force; the newest benchmark of each metric counts."""
    found: dict[str, float] = {}
    for row in sorted(reference.list_benchmarks(), key=lambda row: row.as_of):
        if (row.kind, row.metric) in _LIMIT_METRICS:
            found[row.kind] = row.value
    return found


RECIPE_IN_DOUBT = "Its curve contradicts the recipe, and its owner has not answered for that yet."
OUT_OF_CONTROL = "The check standard of its night or day read out of control: jig and instrument come first."

# the parts of stored figures that upkeep reads: a list of devices need not load the rest
_PARTS = ("kind", "method", "bands", "flags", "summary")

# a device of unknown build has to show what the strictest build has to: its choking and its through path
UNKNOWN_PURPOSE, UNKNOWN_PRINCIPLE = "balun", "current"


def get_device_facts(viewer: Viewer, devices: Sequence[Device]) -> dict[int, DeviceFacts]:
    """Return row number of each device -> its facts, out of the tests that the viewer may see.

    devices: with design, contributor and baseline at hand.
    """
    return _build_facts(tests.build_test_visibility(viewer), devices)


def get_all_device_facts(devices: Sequence[Device]) -> dict[int, DeviceFacts]:
    """Return the same out of all tests, for kept states, which owners, keepers and stewards see."""
    return _build_facts(Q(), devices)


def _build_facts(seen: Q, devices: Sequence[Device]) -> dict[int, DeviceFacts]:
    tests_by_device = _test_facts(seen, devices)
    looks, marks = _inspection_facts(devices), _mark_facts(devices)
    return {
        device.pk: DeviceFacts(
            purpose=UNKNOWN_PURPOSE if device.design is None else device.design.purpose,
            principle=UNKNOWN_PRINCIPLE if device.design is None else device.design.principle,
            registered_on=timezone.localdate(device.registered_at),
            tests=tuple(tests_by_device.get(device.pk, ())),
            inspections=tuple(looks.get(device.pk, ())),
            baseline=device.baseline.key if device.baseline is not None else "",
            marks=tuple(marks.get(device.pk, ())),
            retired_on=device.retired_on,
            ratio="" if device.design is None else device.design.ratio,
        )
        for device in devices
    }


def _test_facts(visible: Q, devices: Iterable[Device]) -> dict[int, list[TestFact]]:
    """Return every device's tests, the newest first."""
    limits = get_limits_by_kind()
    seen = Test.objects.filter(visible, device__in=[device.pk for device in devices])
    rows = (
        Result.objects.filter(current=True, test__in=seen)
        .annotate(is_held=check_standards.build_waiting_flag("test__"))
        .order_by("-test__measured_on", "-test__pk")
        .values_list(
            "test__device_id",
            "test__key",
            "test__measured_on",
            "test__excluded_reason",
            "test__recorded_at",
            "test__recipe_confirmed_at",
            "test__recipe_doubt__contradicts",
            "is_held",
            *(f"figures__{part}" for part in _PARTS),
        )
    )
    found: dict[int, list[TestFact]] = {}
    for (
        device,
        key,
        measured_on,
        excluded_reason,
        recorded_at,
        confirmed_at,
        doubted,
        is_held,
        *parts,
    ) in rows:
        result: dict[str, Any] = dict(zip(_PARTS, parts, strict=True))
        fact = build_test_fact(
            key=key,
            measured_on=measured_on,
            result=result,
            limits=limits,
            excluded_reason=excluded_reason,
            waits_for=OUT_OF_CONTROL if is_held else RECIPE_IN_DOUBT if doubted and not confirmed_at else "",
            recorded_at=recorded_at,
        )
        found.setdefault(device, []).append(fact)
    return found


def _inspection_facts(devices: Iterable[Device]) -> dict[int, list[InspectionFact]]:
    """Return every device's inspections, the oldest first; of a day, in the order of recording."""
    rows = Inspection.objects.filter(device__in=[device.pk for device in devices]).order_by(
        "inspected_on", "pk"
    )
    found: dict[int, list[InspectionFact]] = {}
    for device, *answers in rows.values_list("device_id", "inspected_on", "findings", "recorded_at"):
        found.setdefault(device, []).append(build_inspection_fact(*answers))
    return found


def _mark_facts(devices: Iterable[Device]) -> dict[int, list[MarkFact]]:
    """Return every mark that nobody took back; which of them stand is for the rules to say."""
    rows = DueMark.objects.filter(device__in=[device.pk for device in devices]).order_by("since", "pk")
    found: dict[int, list[MarkFact]] = {}
    for device, *mark in rows.values_list("device_id", "event", "since", "reason", "marked_at"):
        found.setdefault(device, []).append(MarkFact(*mark))
    return found
