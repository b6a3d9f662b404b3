"""What a service state is judged from, and what it is judged to be: plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Literal

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
RealChangeLookup = Callable[
    [], Mapping[str, float]
]  # band -> smallest real change, dB; asked for only when needed


@dataclass(frozen=True)
class ServiceRules:
    """The group's intervals and margins (settings of the group; house defaults)."""

    test_interval_days: int = 365
    inspection_interval_days: int = 365
    watch_margin_db: float = 3.0
    drift_db: float = 3.0


@dataclass(frozen=True)
class InspectionFact:
    """The newest inspection. states: item -> its last answer, which an earlier inspection may have given.

    answered_on: item -> the day of that answer; an item that is missing was answered on `inspected_on`.
    """

    inspected_on: date
    states: Mapping[str, str]
    answered_on: Mapping[str, date] = field(default_factory=dict)


@dataclass(frozen=True)
class DeviceFacts:
    """One device. tests: the newest first. baseline: the key of the chosen one, empty where none was."""

    purpose: str
    principle: str
    registered_on: date
    tests: tuple[TestFact, ...] = ()
    inspection: InspectionFact | None = None
    baseline: str = ""
    due_since: date | None = None
    due_reason: str = ""
    retired_on: date | None = None

    @property
    def telling(self) -> tuple[str, ...]:
        """Return the kinds of test that say whether such a device does its work."""
        return list_decisive_kinds(self.purpose, self.principle)

    @property
    def chokes(self) -> bool:
        """Say whether it is there to stop common-mode current at all."""
        return "common_mode" in self.telling

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
class ServiceAssessment:
    """A service state. due_on: when the next test or inspection is due; None where nothing is."""

    state: ServiceState
    reasons: tuple[Reason, ...]
    next_step: NextStep
    due_on: date | None
    baseline: Baseline | None = None


@dataclass(frozen=True)
class ServiceCase:
    """A device with the rules and the day it is judged on."""

    device: DeviceFacts
    rules: ServiceRules
    on: date
    yardstick: RealChangeLookup = field(default=dict)


def list_decisive_kinds(purpose: str, principle: str) -> tuple[str, ...]:
    """Return a choke and a current balun are there to choke; a voltage balun and an unun transform and do
    not.
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


def compute_test_due_date(device: DeviceFacts, rules: ServiceRules) -> date | None:
    """Return when the next telling test is due; None where there is none yet."""
    newest = device.newest(*device.telling)
    return None if newest is None else newest.measured_on + timedelta(days=rules.test_interval_days)


def compute_inspection_due_date(device: DeviceFacts, rules: ServiceRules) -> date:
    """Return when the next inspection is due; of a device never inspected, counted from its first telling
    test, which somebody had it on the bench for, or from its registration."""
    first = device.first(*device.telling)
    since = first.measured_on if first is not None else device.registered_on
    if device.inspection is not None:
        since = device.inspection.inspected_on
    return since + timedelta(days=rules.inspection_interval_days)


def compute_due_date(case: ServiceCase) -> date | None:
    """Return the earlier of the next test and the next inspection, or the day it was marked; None once
    retired.
    """
    device = case.device
    if device.retired_on is not None:
        return None
    days = [
        compute_test_due_date(device, case.rules),
        compute_inspection_due_date(device, case.rules),
        device.due_since,
    ]
    return min(day for day in days if day is not None)
