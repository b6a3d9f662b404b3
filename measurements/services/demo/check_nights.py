"""The demo's check standard: an invented choke, swept at every night, with a bench that moved twice.

A night's own conditions scale the impedance that the bench reads, always by the same random numbers.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import transaction

from measurements.disclosure.viewers import Viewer
from measurements.models import Device, Night
from measurements.services.check_standards import check_standards
from measurements.services.demo import benches, simulated_sweeps
from measurements.services.demo.scenarios import PlannedDevice, PlannedTest, Scenario
from measurements.services.demo.simulated_sweeps import DeviceOnBench
from measurements.services.demo.windings import choke_z_ohm, create_random_stream, draw_build_variation
from measurements.services.designs import designs
from measurements.services.devices import devices
from measurements.services.nights import nights
from measurements.services.tests import tests
from measurements.services.uploads.uploads import TestSettings, Upload


def load_check_standard(scenario: Scenario, people: dict[str, Viewer]) -> tuple[int, int]:
    """Add the check standard with its nights where there is none: all of it or nothing.

    Answers how many devices and tests it added.
    """
    plan = scenario.check_standard
    if plan is None or Night.objects.filter(held_on__in=[row["held_on"] for row in plan["nights"]]).exists():
        return 0, 0  # loaded before, whatever became of it since
    recipe = designs.preview_design(scenario.designs[plan["design"]]).as_json
    by = people[plan["owner"]]
    with transaction.atomic():
        device = devices.register_device(
            by=by,
            design=designs.register_design(by=by, recipe_given=recipe).key,
            tag=plan["tag"],
            built_on=date.fromisoformat(plan["built_on"]),
            notes=plan["notes"],
        ).key
        check_standards.mark_check_standard(by=by, device=device)
        added = [_add_night(scenario, people, plan, row, device, recipe) for row in plan["nights"]]
    return 1, sum(added)


def _add_night(
    scenario: Scenario,
    people: dict[str, Viewer],
    plan: dict[str, Any],
    row: dict[str, Any],
    device: str,
    recipe: dict[str, Any],
) -> int:
    """Open a night, sweep the check standard at it, and close it."""
    place = next(each for each in plan["benches"] if each["bench"] == row["bench"])
    by, held_on = people[place["operator"]], date.fromisoformat(row["held_on"])
    night = _open_night(by, held_on, row, place)
    for number, moved_db in enumerate(row["sweeps"]):
        upload = _build_sweep(scenario, plan, row, recipe, number, moved_db)
        _record(by, device, {"sweep": upload}, recipe, held_on, night)
    other = _add_other_test(scenario, by, row, held_on, night) if "device" in row else 0
    nights.close_night(by=by, night=night, version=1)
    return len(row["sweeps"]) + other


def _open_night(by: Viewer, held_on: date, row: dict[str, Any], place: dict[str, str]) -> str:
    return nights.open_night(
        by=by,
        held_on=held_on,
        title=row["title"],
        instrument=place["instrument"],
        jig=place["jig"],
        calibrated=True,
        calibration="open, short, load and through at the clips",
    ).key


def _build_sweep(
    scenario: Scenario,
    plan: dict[str, Any],
    row: dict[str, Any],
    recipe: dict[str, Any],
    number: int,
    moved_db: float,
) -> Upload:
    bench, words = scenario.benches[row["bench"]], ("check", row["held_on"], str(number))
    away_db = moved_db + plan["spread_db"] * create_random_stream(*words).standard_normal()
    build = draw_build_variation(plan["owner"], plan["tag"])
    z_ohm = choke_z_ohm(recipe, build, bench.freq_hz) * 10 ** (away_db / 20)
    seen = benches.simulate_reading(bench, benches.compute_common_mode_s(bench, z_ohm), *words)
    comments = (
        "Invented sweep of the demo scenario: no real device was measured",
        f"{plan['tag']}, {row['held_on']}",
    )
    data = benches.format_touchstone(
        bench.freq_hz, seen, unit=bench.unit, style=bench.style, comments=comments
    )
    return Upload(f"{plan['tag']}_{row['held_on']}_{number + 1}.s2p", data)


def _add_other_test(scenario: Scenario, by: Viewer, row: dict[str, Any], held_on: date, night: str) -> int:
    """Record a test of a device of the operator's that waits for the check standard."""
    planned = PlannedDevice(**row["device"])
    recipe = designs.preview_design(scenario.designs[planned.design]).as_json
    made = DeviceOnBench(planned, PlannedTest("common_mode", held_on), scenario.benches[row["bench"]], recipe)
    device = Device.objects.get(contributor__member=by.member_id, tag=planned.tag).key
    _record(by, device, simulated_sweeps.build_uploads(made), recipe, held_on, night)
    return 1


def _record(
    by: Viewer, device: str, uploads: dict[str, Upload], recipe: dict[str, Any], held_on: date, night: str
) -> None:
    tests.record_test(
        by=by,
        device=device,
        uploads=uploads,
        settings=TestSettings(kind="common_mode", ratio=str(recipe["ratio"]), calibrated=True),
        measured_on=held_on,
        night=night,
    )
