"""Fills a database of any kind with an invented group of a given size, for the table of pages.

Devices are invented as in `filling`, with a fixed seed. Rows go in by the ORM in bulk, so that tests fill a
small group beside what they furnish, and the table fills the group of `CLUB` into SQLite in about a minute.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from django.utils import timezone

from deploy.benchmarks import filling
from measurements.models import (
    AuditEntry,
    Contributor,
    Device,
    Member,
    Night,
    NightContributor,
    NightDevice,
    NightOperator,
    Result,
    SweepFile,
    Test,
)
from measurements.rf.analysis import ENGINE_VERSION

BATCH = 2000
FIRST_DAY, DAYS = date(2022, 1, 1), 1500
PLACES = ("Hill site", "Club mast", "Van", "Shed", "Islet", "Loan shelf", "")
TESTS_WITH_SWEEPS = 500


@dataclass(frozen=True)
class GroupSize:
    """How many of everything. own: devices of the member, night: devices on the bench of the newest night."""

    designs: int
    devices: int
    tests: int
    accounts: int
    own: int
    nights: int
    night: int
    log: int
    windings: int = 60


CLUB = GroupSize(
    designs=1515, devices=5269, tests=30_102, accounts=413, own=121, nights=40, night=150, log=50_000
)


def scale_size(size: GroupSize, share: float) -> GroupSize:
    """Scale a group by `share`, above 0; at least four of everything."""
    return GroupSize(**{name: max(4, round(share * count)) for name, count in vars(size).items()})


def fill_group(
    size: GroupSize, *, member: int, operator: int, night: str, seed: int = 1, first: int = 0
) -> None:
    """Add a group to the database, without a release.

    member, operator: row numbers of the accounts that own `own` of the devices and run the nights.
    night: key of the night to whose bench `size.night` devices of guests are brought.
    first: how many designs of the series are there already; it makes names of a second filling differ.
    """
    rng = np.random.default_rng(seed + first)
    designs = filling.register_designs(size.designs, first)[-size.designs :]
    people = _add_people(size.accounts, member, first)
    keys = iter(filling.make_keys(2 * (size.devices + size.tests + size.night + 1000), rng))
    _add_nights(size.nights, operator, keys)
    devices = _add_devices(size, designs, people, keys, rng)
    windings = filling.compute_windings(min(size.windings, size.designs), rng)
    _add_tests(size, devices, windings, keys, rng)
    _add_night(size.night, Night.objects.get(key=night), operator, designs, windings, keys, first)
    _add_log(size.log)


def _add_people(count: int, member: int, first: int) -> list[int]:
    """Add accounts, one in forty an operator; list row numbers of contributors, the member's first."""
    rows = [
        Member(name=f"bench-{first}-{n}", role="operator" if n % 40 == 1 else "member", password="!")  # noqa: S106
        for n in range(count)
    ]
    Member.objects.bulk_create(rows, batch_size=BATCH)
    own, _ = Contributor.objects.get_or_create(member_id=member)
    added = Member.objects.filter(name__startswith=f"bench-{first}-").order_by("id")
    Contributor.objects.bulk_create([Contributor(member=each) for each in added], batch_size=BATCH)
    people = Contributor.objects.filter(member__in=added).order_by("id").values_list("id", flat=True)
    return [own.pk, *people]


def _add_nights(count: int, operator: int, keys: Iterator[str]) -> None:
    """Add one night a month, run by the operator."""
    newest = timezone.localdate()
    nights = [
        Night(
            key=next(keys),
            held_on=newest - timedelta(days=30 * back),
            title=f"Bench night {count - back}",
            jig="the usual clips",
            opened_by_id=operator,
        )
        for back in reversed(range(count))
    ]
    Night.objects.bulk_create(nights, batch_size=BATCH)
    NightOperator.objects.bulk_create([NightOperator(night=each, member_id=operator) for each in nights])


def _add_devices(
    size: GroupSize, designs: list[int], people: list[int], keys: Iterator[str], rng: np.random.Generator
) -> list[Device]:
    design, owner, place = (
        rng.integers(n, size=size.devices) for n in (len(designs), len(people), len(PLACES))
    )
    owner[: size.own] = 0
    devices = [
        Device(
            key=next(keys),
            tag=f"T{designs[0]}-{n}",
            contributor_id=people[owner[n]],
            design_id=designs[design[n]],
            place=PLACES[place[n]],
            retired_on=date(2025, 6, 1) if n % 50 == 49 else None,
        )
        for n in range(size.devices)
    ]
    Device.objects.bulk_create(devices, batch_size=BATCH)
    return devices


def _add_tests(
    size: GroupSize, devices: list[Device], windings: list[Any], keys: Iterator[str], rng: np.random.Generator
) -> None:
    """Add tests with their figures; the first ones with a sweep."""
    device, variant = (rng.integers(n, size=size.tests) for n in (len(devices), filling.WINDINGS_PER_DESIGN))
    days = rng.integers(DAYS, size=size.tests)
    chosen = [devices[index] for index in device]
    tests = [
        _make_test(next(keys), each, FIRST_DAY + timedelta(days=int(day)))
        for each, day in zip(chosen, days, strict=True)
    ]
    found = [
        windings[each.design_id % len(windings)][which] for each, which in zip(chosen, variant, strict=True)
    ]
    _store_tests(tests, found)


def _add_night(
    count: int,
    night: Night,
    operator: int,
    designs: list[int],
    windings: list[Any],
    keys: Iterator[str],
    first: int,
) -> None:
    """Bring devices of guests to the newest night, three each, all tested."""
    guests = [Contributor(key=next(keys), guest_name=f"Guest {first}-{n}") for n in range(1 + count // 3)]
    Contributor.objects.bulk_create(guests, batch_size=BATCH)
    NightContributor.objects.bulk_create(
        [
            NightContributor(key=next(keys), night=night, contributor=each, name=each.guest_name)
            for each in guests
        ]
    )
    devices = [
        Device(
            key=next(keys),
            tag=f"G{first}-{n}",
            contributor=guests[n // 3],
            design_id=designs[n % len(designs)],
        )
        for n in range(count)
    ]
    Device.objects.bulk_create(devices, batch_size=BATCH)
    NightDevice.objects.bulk_create(
        [NightDevice(night=night, device=each, opened_by_id=operator) for each in devices]
    )
    tests = [_make_test(next(keys), each, night.held_on) for each in devices]
    for test in tests:
        test.night, test.recorded_by_id = night, operator
    _store_tests(tests, [windings[n % len(windings)][0] for n in range(count)], sweeps=0)


def _make_test(key: str, device: Device, on: date) -> Test:
    return Test(
        key=key,
        device=device,
        kind="common_mode",
        settings=filling.SETTINGS,
        measured_on=on,
        content_sha256=key,
    )


def _store_tests(tests: list[Test], windings: list[Any], sweeps: int = TESTS_WITH_SWEEPS) -> None:
    """Store tests with the figures of their windings, and the first `sweeps` with the sweep."""
    Test.objects.bulk_create(tests, batch_size=BATCH)
    figures = {id(each): (json.loads(each[0]), json.loads(each[2])) for each in windings}
    Result.objects.bulk_create(
        (
            Result(
                test=test,
                engine_version=ENGINE_VERSION,
                figures=figures[id(each)][0],
                published=figures[id(each)][1],
                evidence_curve=each[1],
                counts_as_evidence=True,
                flagged=test.pk % 40 == 0,
            )
            for test, each in zip(tests, windings, strict=True)
        ),
        batch_size=BATCH,
    )
    SweepFile.objects.bulk_create(
        _make_sweep(test, each) for test, each in zip(tests[:sweeps], windings[:sweeps], strict=True)
    )


def _make_sweep(test: Test, winding: Any) -> SweepFile:
    freq_hz, s = winding[3]
    return SweepFile(
        test=test,
        role="sweep",
        name="a.s2p",
        raw=b"",
        raw_sha256=test.key,
        ports=2,
        points=filling.POINTS,
        freq_hz=freq_hz,
        s=s,
        z0_ohm=[50.0, 50.0],
        measured=[True] * 4,
        source="touchstone",
    )


def _add_log(count: int) -> None:
    """Add lines to the log: of tests, which no page for everybody depends on."""
    rows = (
        AuditEntry(actor=f"bench-{n % 400}", action="test.record", subject=f"line{n:08d}")
        for n in range(count)
    )
    AuditEntry.objects.bulk_create(rows, batch_size=BATCH)
