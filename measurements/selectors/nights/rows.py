"""Rows of club nights and intakes, for the operators of the night and stewards only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from measurements.selectors.intakes.intakes import IntakeSummaryRow


@dataclass(frozen=True)
class JigFileRow:
    """A jig sweep of a night; role is jig_through, jig_open or jig_short."""

    role: str
    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class AttendeeRow:
    """A person who brought devices to a night; `key` identifies the person on this night only.

    name: as an operator wrote it. has_code: a claim code was printed and is not used yet. confirmed: a
    steward confirmed that this guest came; for stewards alone to show.
    """

    key: str
    name: str
    is_guest: bool
    devices: int
    has_code: bool
    confirmed: bool


@dataclass(frozen=True)
class NightTestRow:
    """A test made on a night, newest of its kind and method; figures as in a result of the contract."""

    key: str
    kind: str
    method: str
    measured_on: date
    recorded_at: datetime
    bands: tuple[dict[str, Any], ...]
    summary: dict[str, Any]
    flags: tuple[dict[str, Any], ...]
    engine_version: str


@dataclass(frozen=True)
class NightDeviceRow:
    """A device brought to a night. tests: how many were made of it there. newest: one per kind and method.

    owner, attendee: name and key of whoever brought it (`AttendeeRow.key`); "" and None where a member's
    label opened it.
    """

    key: str
    tag: str
    design: str | None
    design_title: str
    ratio: str
    owner: str
    attendee: str | None
    is_guest: bool
    brought_at: datetime
    tests: int
    newest: tuple[NightTestRow, ...]


@dataclass(frozen=True)
class NightRow:
    """A club night.

    jig_figures: what the jig is good for (`services.nights.nights`), empty until it was swept.
    contributors, devices, intakes, jig_files and operators are filled where one night is asked for, and
    empty in a list, which has the counts. requests: names and tags that owners were asked by; whether there
    is such an owner or device is not known here.
    """

    key: str
    held_on: date
    title: str
    instrument: str
    analyser: str | None
    analyser_name: str
    jig: str
    calibrated: bool | None
    calibration: str
    resistors: str
    notes: str
    opened_by: str
    opened_at: datetime
    closed_at: datetime | None
    version: int
    jig_figures: dict[str, Any]
    device_count: int
    test_count: int
    operators: tuple[str, ...] = ()
    jig_files: tuple[JigFileRow, ...] = ()
    contributors: tuple[AttendeeRow, ...] = ()
    devices: tuple[NightDeviceRow, ...] = ()
    intakes: tuple[IntakeSummaryRow, ...] = ()
    requests: tuple[tuple[str, str], ...] = ()
