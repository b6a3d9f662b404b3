"""The demo scenario as data: fixtures/demo, read into plain values.

People, place, devices and sweeps are invented. Start reading at fixtures/demo/README.md.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from measurements.services.demo.benches import Bench

DIRECTORY = Path(__file__).resolve().parents[3] / "fixtures" / "demo"


@dataclass(frozen=True)
class Person:
    """An account. bench: the one that its sweeps are made on. greeted: offered at the first start."""

    name: str
    role: str
    bench: str
    greeted: bool = False


@dataclass(frozen=True)
class PlannedTest:
    """One test of a device. bench: None for the owner's own. calibrated: None where nobody said.

    turned: a second sweep with the device turned round goes with it. partner: the tag of the owner's
    other device at the far side (back_to_back). readings_mhz: typed-in values in place of a file.
    fault_ohm: in a device that went bad, what lies across its near side (in_situ). dc_readings: of an
    ohmmeter, `from`, `to` and `ohm` (None: open).
    """

    kind: str
    measured_on: date
    method: str | None = None
    calibrated: bool | None = True
    bench: str | None = None
    turned: bool = False
    partner: str | None = None
    readings_mhz: tuple[float, ...] = ()
    fault_ohm: float | None = None
    dc_readings: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True)
class PlannedInspection:
    """One look at a device. findings: item of the check list -> state, or state and note."""

    inspected_on: date
    findings: dict[str, dict[str, str]]
    dc_ohm: float | None = None
    notes: str = ""


@dataclass(frozen=True)
class PlannedDevice:
    """One device of `owner`, in the order of building; `design` is a name within the scenario.

    commissioned: its first test is chosen as the one that later ones are held against.
    """

    owner: str
    tag: str
    design: str
    origin: str = "homebrew"
    built_on: date | None = None
    notes: str = ""
    tests: tuple[PlannedTest, ...] = field(default=())
    place: str = ""
    commissioned: bool = False
    inspections: tuple[PlannedInspection, ...] = field(default=())


@dataclass(frozen=True)
class PlannedNight:
    """A club night: its fields, who runs it on which bench, and what was brought by guests and members."""

    operator: str
    bench: str
    fields: dict[str, Any]
    devices: tuple[PlannedDevice, ...]


@dataclass(frozen=True)
class Scenario:
    """Everything that `demo.load` stores, by name. check_standard: see fixtures/demo/check_standard.json."""

    group: str
    people: tuple[Person, ...]
    benches: dict[str, Bench]
    designs: dict[str, dict[str, Any]]
    devices: tuple[PlannedDevice, ...]
    night: PlannedNight | None = None
    check_standard: dict[str, Any] | None = None

    def bench_of(self, device: PlannedDevice, test: PlannedTest) -> Bench:
        """Return the bench a test is made on."""
        own = next(person.bench for person in self.people if person.name == device.owner)
        return self.benches[test.bench or own]

    def partner_of(self, device: PlannedDevice, test: PlannedTest) -> PlannedDevice | None:
        """Return the other device of a pair; None for every other test. KeyError for a tag that is not
        there.
        """
        if test.partner is None:
            return None
        return {(other.owner, other.tag): other for other in self.devices}[device.owner, test.partner]


def read_scenario(directory: Path = DIRECTORY) -> Scenario:
    """Return the scenario of a directory. KeyError, TypeError or ValueError when its files are damaged."""
    people = _read_content(directory, "people.json")
    designs = _read_content(directory, "designs.json")
    devices = _read_content(directory, "devices.json")
    return Scenario(
        group=people["group"],
        people=tuple(Person(**row) for row in people["people"]),
        benches={row["name"]: _build_bench(row) for row in people["benches"]},
        designs={row["name"]: row["recipe"] for row in designs["designs"]},
        devices=tuple(_build_device(row) for row in devices["devices"]),
        night=_build_night(_read_content(directory, "night.json")),
        check_standard=_read_content(directory, "check_standard.json"),
    )


def _read_content(directory: Path, name: str) -> dict[str, Any]:
    content: dict[str, Any] = json.loads((directory / name).read_text(encoding="utf-8"))
    return content


def _build_bench(row: dict[str, Any]) -> Bench:
    return Bench(**{**row, "sends_jig": tuple(row.get("sends_jig", ()))})


def _build_device(row: dict[str, Any]) -> PlannedDevice:
    built_on = date.fromisoformat(row["built_on"]) if "built_on" in row else None
    tests = tuple(_build_test(test) for test in row.get("tests", ()))
    looks = tuple(_build_inspection(look) for look in row.get("inspections", ()))
    return PlannedDevice(**{**row, "built_on": built_on, "tests": tests, "inspections": looks})


def _build_inspection(row: dict[str, Any]) -> PlannedInspection:
    findings = {
        item: {"state": given, "note": ""} if isinstance(given, str) else given
        for item, given in row["findings"].items()
    }
    return PlannedInspection(
        **{**row, "inspected_on": date.fromisoformat(row["inspected_on"]), "findings": findings}
    )


def _build_test(row: dict[str, Any]) -> PlannedTest:
    readings_mhz = tuple(row.get("readings_mhz", ()))
    measured_on = date.fromisoformat(row["measured_on"])
    dc_readings = tuple(row.get("dc_readings", ()))
    return PlannedTest(
        **{**row, "measured_on": measured_on, "readings_mhz": readings_mhz, "dc_readings": dc_readings}
    )


def _build_night(content: dict[str, Any]) -> PlannedNight:
    fields = dict(content["night"])
    operator, bench = fields.pop("operator"), fields.pop("bench")
    fields["held_on"] = date.fromisoformat(fields["held_on"])
    brought = tuple(_build_night_device(row, fields["held_on"]) for row in content["devices"])
    return PlannedNight(operator, bench, fields, brought)


def _build_night_device(row: dict[str, Any], held_on: date) -> PlannedDevice:
    # what the operator says of calibration is the night's
    tests = tuple(PlannedTest(kind, held_on, calibrated=None) for kind in row["tests"])
    return PlannedDevice(**{**row, "built_on": date.fromisoformat(row["built_on"]), "tests": tests})
