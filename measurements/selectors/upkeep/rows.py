"""Rows about what keeps a device in service: its state, inspections, pictures, marks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class ReasonRow:
    """Why a state is what it is. weight: the state that this alone would make, or "note"."""

    code: str
    weight: str
    message: str
    band: str | None


@dataclass(frozen=True)
class NextStepRow:
    """What to do next. kind: the test to make, where it is one."""

    code: str
    message: str
    kind: str | None


@dataclass(frozen=True)
class BaselineRow:
    """The test of commissioning. chosen: by somebody; else it is the first test that counts."""

    test: str
    kind: str
    measured_on: date
    chosen: bool


@dataclass(frozen=True)
class ChangeRow:
    """A band's change since commissioning, in dB. real: beyond what repeating explains, None: unknown.

    allowed_db: what the group allows. real_from_db: the smallest change that repeating does not explain.
    """

    band: str
    baseline_db: float
    newest_db: float
    change_db: float
    allowed_db: float
    real_from_db: float | None
    real: bool | None
    beyond_allowed: bool


@dataclass(frozen=True)
class RepeatabilityRow:
    """How well tests repeat. whose: "own" repeats, the "group"'s, or "none" where there are too few.

    sd_db: pooled standard deviation per band (the group's rounded up to half a decibel). dof: degrees of
    freedom of the band that has the most. repeats: how many of the owner's own tests repeat another.
    """

    whose: str
    sd_db: dict[str, float]
    real_from_db: dict[str, float]
    dof: int
    needed_dof: int


@dataclass(frozen=True)
class RestsOnRow:
    """A good answer that the state rests on. band: None for an ohmmeter test. message: figure and limit."""

    kind: str
    band: str | None
    message: str
    figure: str
    limit: str
    answered_on: date
    test: str


@dataclass(frozen=True)
class ItemStateRow:
    """The last answer to an item of the check list; "not_looked" and no day where there is none.

    asked: the next inspection asks for it, because nobody answered it within the interval of inspections.
    """

    item: str
    title: str
    state: str
    answered_on: date | None
    asked: bool = True


@dataclass(frozen=True)
class LimitsRow:
    """What the state was judged by: the group's limits, intervals and margins in force."""

    benchmark_db: float
    swr: float
    loss_db: float
    test_interval_days: int
    inspection_interval_days: int
    watch_margin_db: float
    drift_db: float
    drift_loss_db: float
    drift_swr: float


@dataclass(frozen=True)
class ServiceRow:
    """A device's service state. own_nights_only: judged from the tests of the viewer's nights alone.

    due_since, due_reason: of the oldest mark that stands. rests_on: good answers, band by band. not_covered:
    what the state leaves open, in sentences. items: the last answer to each item of the check list.
    repeatability: of the common-mode test.
    """

    device: str
    state: str
    reasons: tuple[ReasonRow, ...]
    next_step: NextStepRow
    due_on: date | None
    due_since: date | None
    due_reason: str
    retired_on: date | None
    baseline: BaselineRow | None
    newest_test: str | None
    change: tuple[ChangeRow, ...]
    repeatability: RepeatabilityRow
    limits: LimitsRow
    judged_on: date
    own_nights_only: bool
    rests_on: tuple[RestsOnRow, ...] = ()
    not_covered: tuple[str, ...] = ()
    items: tuple[ItemStateRow, ...] = ()


@dataclass(frozen=True)
class DeviceStateRow:
    """A device in a list by what is due: its state, the gravest reason and the next step.

    state: "waiting" where no judged state holds now. owned_by: the owner's account, None of a guest or the
    group: two owners may have one name.
    """

    key: str
    tag: str
    design: str | None
    design_title: str
    owner: str
    place: str
    state: str
    reason: str
    next_step: str
    due_on: date | None
    retired_on: date | None
    newest_on: date | None
    owned_by: int | None = None


@dataclass(frozen=True)
class FindingRow:
    """One item of an inspection."""

    item: str
    title: str
    state: str
    note: str


@dataclass(frozen=True)
class InspectionRow:
    """An inspection of a device; items that were not looked at are not among the findings."""

    key: str
    device: str
    inspected_on: date
    recorded_at: datetime
    recorded_by: str
    findings: tuple[FindingRow, ...]
    dc_ohm: float | None
    notes: str
    worst: str | None


@dataclass(frozen=True)
class PhotoRow:
    """A picture of a device; its bytes come from `photos.content`."""

    key: str
    device: str
    caption: str
    width_px: int
    height_px: int
    added_at: datetime


@dataclass(frozen=True)
class CalendarFeedRow:
    """A calendar address of the viewer; the address itself appeared once; nothing holds it."""

    name: str
    label: str
    made_at: datetime
    last_used_on: date | None
    of_group: bool = False
