"""Loads the demo scenario: an invented group, its designs, devices and tests, through the real writes.

Loading again changes nothing: a device that is there is left as it is, with whatever its owner did to it
since. Each device comes in one transaction with its tests, so an interrupted load goes on where it stopped.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import transaction

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Core, Device, Member, Night
from measurements.rf.instruments.jig import JIG_ROLES
from measurements.services.accounts import accounts
from measurements.services.demo import benches, check_nights, scenarios, simulated_sweeps
from measurements.services.demo.benches import Bench
from measurements.services.demo.scenarios import PlannedDevice, Scenario
from measurements.services.demo.simulated_sweeps import DeviceOnBench
from measurements.services.designs import designs
from measurements.services.devices import devices
from measurements.services.nights import guests, nights, persons
from measurements.services.reference import fact_changes, reference_files
from measurements.services.tests import tests
from measurements.services.upkeep import inspections
from measurements.services.uploads.uploads import Upload

# The club night of the demo scenario: its jig, its guests and what they brought, through the real writes.


def load_demo_night(scenario: Scenario, people: dict[str, Viewer]) -> tuple[int, int]:
    """Add the night where there is none of that day and operator: all of it or nothing.

    Answers how many devices and tests it added.
    """
    planned = scenario.night
    if planned is None:
        return 0, 0
    by, bench = people[planned.operator], scenario.benches[planned.bench]
    if Night.objects.filter(opened_by=by.member_id, held_on=planned.fields["held_on"]).exists():
        return 0, 0
    with transaction.atomic():
        night = nights.open_night(by=by, **planned.fields).key
        nights.set_night_jig(
            by=by, night=night, uploads={role: _build_jig_upload(bench, role) for role in JIG_ROLES}
        )
        added = [
            _add_night_device(scenario, by, night, bench, device, people.get(device.owner))
            for device in planned.devices
        ]
        steward = next(person.name for person in scenario.people if person.role == "steward")
        persons.confirm_guests(by=people[steward], night=night)
    return len(added), sum(added)


def _add_night_device(
    scenario: Scenario, by: Viewer, night: str, bench: Bench, planned: PlannedDevice, member: Viewer | None
) -> int:
    """Return a guest's device is registered on the night; a member's came registered, and its label opens
    it.
    """
    recipe = designs.preview_design(scenario.designs[planned.design]).as_json
    brought_by = None
    if member is None:
        brought_by = (night, guests.add_attendee(by=by, night=night, name=planned.owner).key)
    device = devices.register_device(
        by=member or by,
        design=designs.register_design(by=by, recipe_given=recipe).key,
        tag=planned.tag,
        built_on=planned.built_on,
        contributor=brought_by,
    )
    for test in planned.tests:
        made = DeviceOnBench(planned, test, bench, recipe)
        own = {
            role: file for role, file in simulated_sweeps.build_uploads(made).items() if role not in JIG_ROLES
        }
        tests.record_test(
            by=by,
            device=device.key,
            uploads=own,
            settings=simulated_sweeps.build_settings(made),
            measured_on=test.measured_on,
            night=night,
        )
    return len(planned.tests)


def _build_jig_upload(bench: Bench, role: str) -> Upload:
    seen = benches.simulate_reading(bench, benches.compute_jig_s(bench, role), "night", role)
    comments = (
        "Invented sweep of the demo scenario: no real jig was measured",
        f"{role} of the {bench.name}",
    )
    data = benches.format_touchstone(
        bench.freq_hz, seen, unit=bench.unit, style=bench.style, comments=comments
    )
    return Upload(f"{role}.s2p", data)


SCENARIO = scenarios.read_scenario()

# name and role of the accounts whose sign-in links the first start prints
ACCOUNTS = tuple((person.name, person.role) for person in SCENARIO.people if person.greeted)


@dataclass(frozen=True)
class DemoCounts:
    """How many of each this call added; all zero the second time."""

    members: int
    designs: int
    devices: int
    tests: int


def load_demo(scenario: Scenario = SCENARIO) -> DemoCounts:
    """Add what is missing of the scenario, and reference data where there is none.

    Raises BenchnightError `demo.name_taken` where somebody else has a name of the demo.
    """
    if not Core.objects.exists():
        reference_files.load_reference_data()
    with transaction.atomic():
        members, people = _ensure_people(scenario)
        fact_changes.mark_demo(loaded=True)
    recipes = {name: designs.preview_design(recipe).as_json for name, recipe in scenario.designs.items()}
    added = [
        _add_device(scenario, people[planned.owner], planned, recipes[planned.design])
        for planned in _list_missing_devices(scenario)
    ]
    brought, measured = load_demo_night(scenario, people)
    checks, swept = check_nights.load_check_standard(scenario, people)
    return DemoCounts(
        members,
        designs=sum(new_design for new_design, _ in added),
        devices=len(added) + brought + checks,
        tests=sum(recorded for _, recorded in added) + measured + swept,
    )


def _ensure_people(scenario: Scenario) -> tuple[int, dict[str, Viewer]]:
    """Return the accounts, all made at once; a role that a steward changed since stays changed."""
    names = [person.name for person in scenario.people]
    there = dict(Member.objects.filter(name__in=names).values_list("name", "role"))
    if there and len(there) < len(names):
        # invented devices must not be filed under a person who happens to have the name
        raise BenchnightError(
            "demo.name_taken",
            f"There is an account {min(there)!r} here that the demo did not make, or one of the demo's was "
            "removed. Load the demo into a database of its own.",
            kind="conflict",
            field="name",
        )
    with transaction.atomic():
        for person in scenario.people:
            if person.name not in there:
                accounts.ensure_member(name=person.name, role=person.role)
    members = Member.objects.filter(name__in=names)
    viewers = {member.name: Viewer(member.pk, member.name, member.role) for member in members}
    return len(names) - len(there), viewers


def _list_missing_devices(scenario: Scenario) -> list[PlannedDevice]:
    there = set(Device.objects.values_list("contributor__member__name", "tag"))
    return [planned for planned in scenario.devices if (planned.owner, planned.tag) not in there]


def _add_device(
    scenario: Scenario, by: Viewer, planned: PlannedDevice, recipe: dict[str, Any]
) -> tuple[bool, int]:
    """Return one device with its tests; answers whether its design is new, and how many tests it has."""
    with transaction.atomic():
        design = designs.register_design(by=by, recipe_given=recipe)
        device = devices.register_device(
            by=by,
            design=design.key,
            tag=planned.tag,
            origin=planned.origin,
            built_on=planned.built_on,
            notes=planned.notes,
            place=planned.place,
        )
        stored = []
        for test in planned.tests:
            made = DeviceOnBench(
                planned,
                test,
                scenario.bench_of(planned, test),
                recipe,
                scenario.partner_of(planned, test),
            )
            recorded = tests.record_test(
                by=by,
                device=device.key,
                uploads=simulated_sweeps.build_uploads(made),
                settings=simulated_sweeps.build_settings(made),
                measured_on=test.measured_on,
            )
            stored.append(recorded.key)
        if planned.commissioned:
            devices.update_device(by=by, device=device.key, version=1, baseline=stored[0])
        for look in planned.inspections:
            inspections.record_inspection(by=by, device=device.key, **vars(look))
    return design.created, len(planned.tests)
