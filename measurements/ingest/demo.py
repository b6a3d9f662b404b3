"""Loads the demo scenario: an invented group, its designs, devices and tests, through the real writes.

Loading again changes nothing: a device that is there is left as it is, with whatever its owner did to it
since. Each device comes in one transaction with its tests, so an interrupted load goes on where it stopped.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import transaction

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import (
    accounts,
    demo_night,
    demo_scenario,
    demo_sweeps,
    designs,
    devices,
    inspections,
    reference,
    tests,
)
from measurements.ingest.demo_scenario import PlannedDevice, Scenario
from measurements.ingest.demo_sweeps import Made
from measurements.models import Core, Device, Member

SCENARIO = demo_scenario.read()
# name and role of the accounts whose sign-in links the first start prints
ACCOUNTS = tuple((person.name, person.role) for person in SCENARIO.people if person.greeted)


@dataclass(frozen=True)
class Loaded:
    """How many of each this call added; all zero the second time."""

    members: int
    designs: int
    devices: int
    tests: int


def load(scenario: Scenario = SCENARIO) -> Loaded:
    """Adds what is missing of the scenario, and reference data where there is none.

    Raises BenchnightError `demo.name_taken` where somebody else has a name of the demo.
    """
    if not Core.objects.exists():
        reference.load()
    members, people = _people(scenario)
    recipes = {name: designs.preview(recipe).as_json for name, recipe in scenario.designs.items()}
    added = [
        _add(scenario, people[planned.owner], planned, recipes[planned.design])
        for planned in _missing(scenario)
    ]
    brought, measured = demo_night.load(scenario, people)
    return Loaded(
        members,
        designs=sum(new_design for new_design, _ in added),
        devices=len(added) + brought,
        tests=sum(recorded for _, recorded in added) + measured,
    )


def _people(scenario: Scenario) -> tuple[int, dict[str, Viewer]]:
    """The accounts, all made at once; a role that a steward changed since stays changed."""
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


def _missing(scenario: Scenario) -> list[PlannedDevice]:
    there = set(Device.objects.values_list("contributor__member__name", "tag"))
    return [planned for planned in scenario.devices if (planned.owner, planned.tag) not in there]


def _add(scenario: Scenario, by: Viewer, planned: PlannedDevice, recipe: dict[str, Any]) -> tuple[bool, int]:
    """One device with its tests; answers whether its design is new, and how many tests it has."""
    with transaction.atomic():
        design = designs.register(by=by, recipe_given=recipe)
        device = devices.register(
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
            made = Made(
                planned,
                test,
                scenario.bench_of(planned, test),
                recipe,
                scenario.partner_of(planned, test),
            )
            recorded = tests.record(
                by=by,
                device=device.key,
                uploads=demo_sweeps.uploads(made),
                settings=demo_sweeps.settings(made),
                measured_on=test.measured_on,
            )
            stored.append(recorded.key)
        if planned.commissioned:
            devices.change(by=by, device=device.key, version=1, baseline=stored[0])
        for look in planned.inspections:
            inspections.record(by=by, device=device.key, **vars(look))
    return design.created, len(planned.tests)
