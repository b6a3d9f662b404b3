"""What a night's jig is good for, as the page says it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.pages.layout import figures, procedures, wording
from measurements.pages.layout.wording import Badge, format_method
from measurements.pages.tests import presenters
from measurements.pages.tests.presenters import BandLine
from measurements.selectors.intakes.intakes import IntakeFileRow, IntakeRow
from measurements.selectors.nights.rows import NightDeviceRow, NightRow, NightTestRow

JIG_GOOD = Badge("Good enough", "good", "shape-meets", "is-meets", "It can show the benchmark on every band.")

JIG_POOR = Badge("Not good enough", "poor", "shape-short", "is-short", "It hides the benchmark on some band.")

JIG_UNKNOWN = Badge("Not known", "unknown", "shape-few", "is-few", "The open sweep is missing.")


@dataclass(frozen=True)
class JigPresentation:
    """headline: in four words. lines: advice. bands: the figures per band, empty without an open sweep."""

    said: Badge
    headline: str
    sentence: str
    lines: tuple[str, ...]
    bands: tuple[dict[str, Any], ...]
    swept: str
    tests_before: int

    @property
    def drawable(self) -> bool:
        """Say whether there is a floor to draw."""
        return any(band["floor_db"] is not None for band in self.bands)


def present_jig(found: dict[str, Any]) -> JigPresentation | None:
    """Return the figures of `rf.instruments.jig_check.assess_jig` in words; None before the jig was swept."""
    if not found:
        return None
    said = {True: JIG_GOOD, False: JIG_POOR, None: JIG_UNKNOWN}[found["good_enough"]]
    swept = {"jig_through": "closed", "jig_open": "open", "jig_short": "linked"}
    return JigPresentation(
        said=said,
        headline=_write_jig_headline(found, said),
        sentence=found["sentence"],
        lines=tuple(procedures.translate_roles(line) for line in found["advice"]),
        bands=tuple(found["bands"]),
        swept=", ".join(swept[role] for role in found["swept"]),
        tests_before=found.get("tests_before", 0),
    )


def _write_jig_headline(found: dict[str, Any], said: Badge) -> str:
    if found["good_up_to_db"] is not None and found["good_up_to_db"] > 0:
        return f"Good up to {figures.format_number(found['good_up_to_db'])} dB"
    return "Good for every reading" if said is JIG_GOOD else said.word


# What the pages of a night say: its name, how far it is, what the jig is good for.

FILE_STATES = {
    "waiting": Badge("Waiting", "waiting", "shape-few", "is-few", "It has its turn after those above it."),
    "stored": Badge("Stored", "stored", "shape-meets", "is-meets", "A test is stored from it."),
    "already_there": Badge(
        "Already there", "already there", "shape-meets", "is-meets", "The same test was stored before."
    ),
    "refused": Badge("Refused", "refused", "shape-short", "is-short", "The reason is beside it."),
}


@dataclass(frozen=True)
class NightTestLine:
    """A test of the night as it is shown: kind in words, the verdict, a line per band."""

    __test__ = False

    row: NightTestRow
    words: str
    said: Badge
    outcome: str
    bands: tuple[BandLine, ...]


@dataclass(frozen=True)
class NightDeviceLine:
    """A device of the night with the tests made of it there."""

    row: NightDeviceRow
    tests: tuple[NightTestLine, ...]

    @property
    def measured(self) -> bool:
        return bool(self.tests)


def get_night_title(night: NightRow) -> str:
    """Return the night's own title, or its day."""
    return night.title or f"Night of {night.held_on.day} {night.held_on:%B %Y}"


def present_night_test(test: NightTestRow) -> NightTestLine:
    """Return the newest test of a kind, judged band by band."""
    bands = presenters.present_bands(
        {"kind": test.kind, "bands": list(test.bands), "flags": list(test.flags)}
    )
    said, outcome = presenters.summarise_verdicts(bands)
    return NightTestLine(test, format_method(test.kind, test.method), said, outcome, bands)


def present_night_devices(devices: tuple[NightDeviceRow, ...]) -> list[NightDeviceLine]:
    """Return every device with its tests as they are shown."""
    return [NightDeviceLine(row, tuple(present_night_test(test) for test in row.newest)) for row in devices]


def list_unjudged_devices(devices: tuple[NightDeviceRow, ...]) -> list[NightDeviceLine]:
    """Return the measured devices of which no test has a verdict on any band."""
    lines = present_night_devices(devices)
    unjudged = wording.DECISIONS["not_judged"]
    return [line for line in lines if line.tests and all(test.said is unjudged for test in line.tests)]


def format_measured_count(devices: tuple[NightDeviceRow, ...]) -> str:
    """Describe the progress of the night, such as `18 of 30 measured`."""
    return f"{sum(row.tests > 0 for row in devices)} of {len(devices)} measured"


def group_owners_by_tag(devices: tuple[NightDeviceRow, ...]) -> list[tuple[str, list[str]]]:
    """Return each tag of the night with the owner of each device that has it, in lower case, as it is
    matched.
    """
    owners: dict[str, list[str]] = {}
    for row in devices:
        owners.setdefault(row.tag.lower(), []).append(row.owner.lower())
    return list(owners.items())


def get_file_badge(file: IntakeFileRow) -> Badge:
    """Name the state of a file."""
    return FILE_STATES[file.state]


def format_intake_progress(intake: IntakeRow) -> str:
    """Describe the progress of an intake in one sentence, which a screen reader reads aloud while it runs."""
    counts = {state: sum(file.state == state for file in intake.files) for state in FILE_STATES}
    ended = [
        f"{counts[state]} {FILE_STATES[state].short}" for state in ("stored", "already_there", "refused")
    ]
    done = "Done: " if intake.state == "done" else ""
    return f"{done}{intake.done} of {intake.total} files read; {', '.join(ended)}."
