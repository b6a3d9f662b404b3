"""The club night of the demo scenario: its jig, its guests and what they brought, through the real writes."""

from __future__ import annotations

from django.db import transaction

from measurements.disclosure.circles import Viewer
from measurements.ingest import (
    demo_bench,
    demo_files,
    demo_sweeps,
    designs,
    devices,
    guests,
    nights,
    tests,
)
from measurements.ingest.demo_bench import Bench
from measurements.ingest.demo_scenario import PlannedDevice, Scenario
from measurements.ingest.demo_sweeps import Made
from measurements.ingest.uploads import Upload
from measurements.models import Night
from measurements.rf.jig import ROLES


def load(scenario: Scenario, people: dict[str, Viewer]) -> tuple[int, int]:
    """Adds the night where there is none of that day and operator: all of it or nothing.

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
        nights.set_jig(by=by, night=night, uploads={role: _jig(bench, role) for role in ROLES})
        added = [_add(scenario, by, night, bench, device) for device in planned.devices]
    return len(added), sum(added)


def _add(scenario: Scenario, by: Viewer, night: str, bench: Bench, planned: PlannedDevice) -> int:
    recipe = designs.preview(scenario.designs[planned.design]).as_json
    person = guests.welcome(by=by, night=night, name=planned.owner)
    device = devices.register(
        by=by,
        design=designs.register(by=by, recipe_given=recipe).key,
        tag=planned.tag,
        built_on=planned.built_on,
        contributor=(night, person.key),
    )
    for test in planned.tests:
        made = Made(planned, test, bench, recipe)
        own = {role: file for role, file in demo_sweeps.uploads(made).items() if role not in ROLES}
        tests.record(
            by=by,
            device=device.key,
            uploads=own,
            settings=demo_sweeps.settings(made),
            measured_on=test.measured_on,
            night=night,
        )
    return len(planned.tests)


def _jig(bench: Bench, role: str) -> Upload:
    seen = demo_bench.read(bench, demo_bench.jig(bench, role), "night", role)
    comments = (
        "Invented sweep of the demo scenario: no real jig was measured",
        f"{role} of the {bench.name}",
    )
    data = demo_files.touchstone(bench.freq_hz, seen, unit=bench.unit, style=bench.style, comments=comments)
    return Upload(f"{role}.s2p", data)
