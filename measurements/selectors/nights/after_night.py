"""After a night: what each participant brought and learnt, and what the group may print of the evening."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import ClaimCode, Device, Night, NightDevice, NightOperator, Result, Test
from measurements.rf.sweeps import result_values
from measurements.selectors.devices import owners
from measurements.selectors.nights import nights
from measurements.selectors.nights.rows import NightTestRow

MOST_TARGETS = 200  # devices that a test may move to, in one list
MOST_NIGHTS = 3  # of a guest whose card's code is shown: the last ones


@dataclass(frozen=True)
class OwnDeviceRow:
    """A participant's device with the newest tests of each kind that the night made of it.

    traces: of the first of them, by name with unit; empty where it has none or they were not asked for.
    """

    key: str
    tag: str
    design: str | None
    design_title: str
    purpose: str
    tests: tuple[NightTestRow, ...]
    traces: dict[str, list[float | None]]


@dataclass(frozen=True)
class EveningRow:
    """One night of one participant."""

    night: str
    held_on: date
    title: str
    devices: tuple[OwnDeviceRow, ...]


@dataclass(frozen=True)
class NightCountsRow:
    """What may be printed of a night without anybody's figure. kinds: kind -> devices tested so.

    persons: how many owners the tested devices have. designs: keys of the designs on the bench.
    """

    devices: int
    tested: int
    persons: int
    kinds: dict[str, int]
    designs: tuple[str, ...]


def get_own_evening(viewer: Viewer, night: str) -> EveningRow:
    """Return the viewer's own devices that were on a night's bench. Raises `night.not_found` without any."""
    policy.check_signed_in(viewer)
    found = Night.objects.filter(key=night).first()
    own = Device.objects.filter(contributor__member=viewer.member_id, nights__night=found)
    if found is None or not own.exists():
        raise policy.build_not_found("night")
    return _build_evening(found, own, with_traces=False)


def list_own_nights(viewer: Viewer) -> tuple[tuple[str, date, str], ...]:
    """List key, day and title of the last nights on whose bench the viewer's own devices were."""
    policy.check_signed_in(viewer)
    brought = NightDevice.objects.filter(device__contributor__member=viewer.member_id)
    found = Night.objects.filter(pk__in=brought.values("night")).order_by("-held_on", "-pk")
    return tuple(found.values_list("key", "held_on", "title")[:MOST_NIGHTS])


def list_guest_evenings(code_sha256: str) -> tuple[EveningRow, ...] | None:
    """Return the last nights of the guest whose unused code has this hash; None where there is none."""
    card = ClaimCode.objects.filter(code_sha256=code_sha256, used_at=None).first()
    if card is None:
        return None
    devices = Device.objects.filter(contributor=card.contributor_id)
    attended = Night.objects.filter(brought__device__contributor=card.contributor_id).distinct()
    found = attended.order_by("-held_on", "-pk")[:MOST_NIGHTS]
    return tuple(
        _build_evening(night, devices.filter(nights__night=night), with_traces=True) for night in found
    )


def count_night(viewer: Viewer, night: str) -> NightCountsRow:
    """Return the counts of a night. Raises BenchnightError `night.not_found` to all but its operators."""
    found = nights.get_night_record(viewer, night)
    brought = NightDevice.objects.filter(night=found)
    devices = Device.objects.filter(pk__in=brought.values("device")).select_related("design")
    made = nights.list_tests_by_device(found, [device.pk for device in devices])
    tested = [device for device in devices if made[device.pk]]
    kinds: dict[str, int] = {}
    for device in tested:
        for kind in sorted({test.kind for test in made[device.pk]}):
            kinds[kind] = kinds.get(kind, 0) + 1
    designs = {device.design.key for device in devices if device.design is not None}
    persons = {device.contributor_id for device in tested}
    return NightCountsRow(len(devices), len(tested), len(persons), kinds, tuple(sorted(designs)))


def list_move_targets(viewer: Viewer, test: str) -> list[tuple[str, str]]:
    """Return key and words of the devices that a test may move to: own ones, or on its night's bench."""
    policy.check_signed_in(viewer)
    found = Test.objects.filter(key=test).first()
    if found is None:
        raise policy.build_not_found("test")
    devices = Device.objects.filter(contributor__member=viewer.member_id)
    if NightOperator.objects.of_night(found.night_id) & {viewer.member_id}:
        there = NightDevice.objects.live().filter(night=found.night_id).values("device")
        devices |= Device.objects.filter(pk__in=there)
    rows = devices.exclude(pk=found.device_id).select_related("design", "contributor").order_by("tag")
    return [(row.key, f"{row.tag}, {owners.format_build(row)}") for row in rows[:MOST_TARGETS]]


def _build_evening(night: Night, devices: Iterable[Device], *, with_traces: bool) -> EveningRow:
    rows = list(devices.select_related("design").distinct().order_by("tag"))  # type: ignore[attr-defined]
    made = nights.list_tests_by_device(night, [device.pk for device in rows])
    newest = {device.pk: nights.list_newest_per_kind(made[device.pk]) for device in rows}
    first = [tests[0].key for tests in newest.values() if tests] if with_traces else []
    traces = _read_traces(first)
    return EveningRow(
        night=night.key,
        held_on=night.held_on,
        title=night.title,
        devices=tuple(
            OwnDeviceRow(
                key=device.key,
                tag=device.tag,
                design=None if device.design is None else device.design.key,
                design_title=owners.format_build(device),
                purpose="" if device.design is None else device.design.purpose,
                tests=newest[device.pk],
                traces=traces.get(newest[device.pk][0].key, {}) if newest[device.pk] else {},
            )
            for device in rows
        ),
    )


def _read_traces(keys: list[str]) -> dict[str, dict[str, list[float | None]]]:
    rows = Result.objects.filter(current=True, test__key__in=keys)
    return {
        key: result_values.format_traces(result_values.unpack_traces(names, packed))
        for key, names, packed in rows.values_list("test__key", "trace_names", "traces")
    }
