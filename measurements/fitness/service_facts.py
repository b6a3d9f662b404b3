"""What a service state is judged from, and what it is judged to be: plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Literal

from measurements.fitness.last_answers import (
    CheckAnswers,
    InspectionFact,
    ItemAnswer,
    collect_check_answers,
    collect_item_answers,
)
from measurements.fitness.test_facts import TestFact

ServiceState = Literal["unserviceable", "untested", "overdue", "watch", "serviceable"]
SERVICE_STATES: tuple[ServiceState, ...] = (
    "unserviceable",
    "untested",
    "overdue",
    "watch",
    "serviceable",
)  # the first wins
ReasonWeight = Literal["unserviceable", "untested", "overdue", "watch", "note"]
# of a kind: band -> smallest real change of its judged figure; asked for only when needed
RealChangeLookup = Callable[[str], Mapping[str, float]]


def know_no_repeats(_kind: str) -> Mapping[str, float]:
    """Answer for a group in which nobody knows how well tests repeat."""
    return {}


# the bands that a device has to be good for while nobody chose its commissioning test (house default)
CORE_BANDS = ("80m", "40m", "30m", "20m", "17m", "15m", "12m", "10m")


@dataclass(frozen=True)
class ServiceRules:
    """The group's intervals and margins (settings of the group; house defaults).

    watch_margin_db: watched below this above the benchmark, beside what U and repeating explain.
    """

    test_interval_days: int = 365
    inspection_interval_days: int = 365
    watch_margin_db: float = 0.0
    drift_db: float = 3.0
    drift_loss_db: float = 0.25
    drift_swr: float = 0.2

    def get_allowed_drift(self, kind: str) -> float | None:
        """Return the change of a kind's figure that is allowed; None where no change of it is watched."""
        allowed = {
            "common_mode": self.drift_db,
            "insertion_loss": self.drift_loss_db,
            "load_match": self.drift_swr,
        }
        return allowed.get(kind)


@dataclass(frozen=True)
class MarkFact:
    """A mark after an event (a code of `due_events`). since: its day. marked_at: when somebody made it."""

    event: str
    since: date
    reason: str = ""
    marked_at: datetime | None = None

    def is_before(self, on: date, recorded_at: datetime | None) -> bool:
        """Tell whether what was done on a day, and stored then, was done after the event."""
        if on < self.since:
            return False
        return self.marked_at is None or recorded_at is None or recorded_at >= self.marked_at


@dataclass(frozen=True)
class DeviceFacts:
    """One device. tests: the newest first. baseline: the key of the chosen one, empty where none was.

    inspections: all of them, in any order. marks: all that nobody took back.
    """

    purpose: str
    principle: str
    registered_on: date
    tests: tuple[TestFact, ...] = ()
    inspections: tuple[InspectionFact, ...] = ()
    baseline: str = ""
    marks: tuple[MarkFact, ...] = ()
    retired_on: date | None = None
    ratio: str = ""

    @property
    def telling(self) -> tuple[str, ...]:
        """Return the kinds of test that say whether such a device does its work."""
        return list_decisive_kinds(self.purpose, self.principle)

    @property
    def work_kinds(self) -> tuple[str, ...]:
        """Return those that show it alone: two halves that are equal may both be bad."""
        return tuple(kind for kind in self.telling if kind != "balance")

    @property
    def chokes(self) -> bool:
        """Say whether it is there to stop common-mode current at all."""
        return "common_mode" in self.telling

    @cached_property
    def items(self) -> dict[str, ItemAnswer]:
        """Return item -> its last answer."""
        return collect_item_answers(self.inspections)

    @cached_property
    def checks(self) -> CheckAnswers:
        """Return the last answers of every kind on every band."""
        return collect_check_answers(self.tests)

    def newest(self, *kinds: str) -> TestFact | None:
        """Return the newest useful test of these kinds."""
        return next((test for test in self.tests if test.kind in kinds and test.useful), None)

    def first(self, *kinds: str) -> TestFact | None:
        """Return the oldest useful test of these kinds."""
        return next((test for test in reversed(self.tests) if test.kind in kinds and test.useful), None)


@dataclass(frozen=True)
class Reason:
    """Why. weight: the state that this alone would make, or a note. message: a sentence with its figures."""

    code: str
    weight: ReasonWeight
    message: str
    band: str | None = None


@dataclass(frozen=True)
class NextStep:
    """What to do. kind: the test to make, where it is one."""

    code: str
    message: str
    kind: str | None = None


@dataclass(frozen=True)
class Baseline:
    """The test of commissioning. chosen: somebody chose it; else it is the first useful one."""

    test: TestFact
    chosen: bool


@dataclass(frozen=True)
class RestsOn:
    """One good answer that a state rests on. band: None for an ohmmeter test.

    figure, limit: in words; limit is empty where its kind has none.
    """

    kind: str
    band: str | None
    figure: str
    limit: str
    answered_on: date
    test: str

    @property
    def message(self) -> str:
        return f"{self.figure}{f' ({self.limit})' if self.limit else ''}"


@dataclass(frozen=True)
class ServiceAssessment:
    """A service state. due_on: when the next test or inspection is due; None where nothing is.

    rests_on: good answers that are not too old, band by band. not_covered: what the state leaves open, in
    sentences.
    """

    state: ServiceState
    reasons: tuple[Reason, ...]
    next_step: NextStep
    due_on: date | None
    baseline: Baseline | None = None
    rests_on: tuple[RestsOn, ...] = ()
    not_covered: tuple[str, ...] = ()


@dataclass(frozen=True)
class ServiceCase:
    """A device with the rules and the day it is judged on."""

    device: DeviceFacts
    rules: ServiceRules
    on: date
    yardstick: RealChangeLookup = know_no_repeats


def list_decisive_kinds(purpose: str, principle: str) -> tuple[str, ...]:
    """Return the kinds that tell whether a device works.

    A choke and a current balun are there to choke; a voltage balun and an unun transform and do not.
    """
    if purpose == "unun" or principle == "voltage":
        return (
            ("insertion_loss", "load_match", "balance")
            if purpose == "balun"
            else (
                "insertion_loss",
                "load_match",
            )
        )
    return ("common_mode",)


def find_baseline(device: DeviceFacts) -> Baseline | None:
    """Return the chosen test where it still counts, else the first useful test of a telling kind."""
    chosen = next((test for test in device.tests if test.key == device.baseline and test.useful), None)
    if chosen is not None:
        return Baseline(chosen, chosen=True)
    first = device.first(*device.telling)
    return None if first is None else Baseline(first, chosen=False)
