"""What the pages of a night say: its name, how far it is, what the jig is good for."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.pages import metrics
from measurements.pages.metrics import BandLine
from measurements.pages.words import OWN, Said, method
from measurements.queries.rows_of_nights import (
    IntakeFileRow,
    IntakeRow,
    NightDeviceRow,
    NightRow,
    NightTestRow,
)

FILE_STATES = {
    "waiting": Said("Waiting", "waiting", "shape-few", "is-few", "It has its turn after those above it."),
    "stored": Said("Stored", "stored", "shape-meets", "is-meets", "A test is stored from it."),
    "already_there": Said(
        "Already there", "already there", "shape-meets", "is-meets", "The same test was stored before."
    ),
    "refused": Said("Refused", "refused", "shape-short", "is-short", "Its reason stands beside it."),
}
INTAKE_STATES = {"queued": "waiting for its turn", "running": "running", "done": "done"}


@dataclass(frozen=True)
class TestLine:
    """A test of the night as it is shown: kind in words, the verdict, a line per band."""

    __test__ = False

    row: NightTestRow
    words: str
    said: Said
    outcome: str
    bands: tuple[BandLine, ...]


@dataclass(frozen=True)
class DeviceLine:
    """A device of the night with the tests made of it there."""

    row: NightDeviceRow
    tests: tuple[TestLine, ...]

    @property
    def measured(self) -> bool:
        return bool(self.tests)


def title(night: NightRow) -> str:
    """The night's own title, or its day."""
    return night.title or f"Night of {night.held_on.day} {night.held_on:%B %Y}"


def test_line(test: NightTestRow) -> TestLine:
    """The newest test of a kind, judged band by band."""
    bands = metrics.band_lines({"kind": test.kind, "bands": list(test.bands)})
    said, outcome = metrics.overall(bands)
    return TestLine(test, method(test.kind, test.method), said, outcome, bands)


def device_lines(devices: tuple[NightDeviceRow, ...]) -> list[DeviceLine]:
    """Every device with its tests as they are shown."""
    return [DeviceLine(row, tuple(test_line(test) for test in row.newest)) for row in devices]


def measured_words(devices: tuple[NightDeviceRow, ...]) -> str:
    """How far the night is, such as `18 of 30 measured`."""
    return f"{sum(row.tests > 0 for row in devices)} of {len(devices)} measured"


def owners_by_tag(devices: tuple[NightDeviceRow, ...]) -> list[tuple[str, list[str]]]:
    """Each tag of the night with the owner of each device that has it, in lower case, as it is matched."""
    owners: dict[str, list[str]] = {}
    for row in devices:
        owners.setdefault(row.tag.lower(), []).append(row.owner.lower())
    return list(owners.items())


def file_said(file: IntakeFileRow) -> Said:
    """How a file's state is said."""
    return FILE_STATES[file.state]


def intake_words(intake: IntakeRow) -> str:
    """How far an intake is, in one sentence; what a screen reader hears while it runs."""
    counts = {state: sum(file.state == state for file in intake.files) for state in FILE_STATES}
    ended = [
        f"{counts[state]} {FILE_STATES[state].short}" for state in ("stored", "already_there", "refused")
    ]
    done = "Done: " if intake.state == "done" else ""
    return f"{done}{intake.done} of {intake.total} files read; {', '.join(ended)}."


def not_measured() -> Said:
    """How a device without a test is said."""
    return OWN[None]
