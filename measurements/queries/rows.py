"""What leaves this room: frozen rows, already filtered for who asks.

Doors turn rows into JSON or HTML and add nothing. Public keys are called `key` here and `id` outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class Page(Generic[T]):
    """One page of a list; `next_cursor` is opaque and None on the last page."""

    results: tuple[T, ...]
    next_cursor: str | None


@dataclass(frozen=True)
class BandRow:
    """An amateur band of one ITU region, dated and sourced."""

    region: int
    band: str
    start_hz: float
    stop_hz: float
    valid_from: date
    valid_to: date | None
    source: str
    basis: str
    as_of: date
    note: str


@dataclass(frozen=True)
class BenchmarkRow:
    """A limit a test is held against."""

    kind: str
    metric: str
    value: float
    unit: str
    source: str
    basis: str
    as_of: date
    note: str


@dataclass(frozen=True)
class MixRow:
    """A ferrite material; permeability rows are (frequency_hz, mu', mu'')."""

    name: str
    initial_permeability: float | None
    curie_c: float | None
    resistivity_ohm_cm: float | None
    rows: tuple[tuple[float, float, float], ...]
    source: str
    basis: str
    as_of: date
    note: str


@dataclass(frozen=True)
class CoreRow:
    """A core a maker lists; what no source gives is None."""

    part: str
    shape: str
    outer_mm: float | None
    inner_mm: float | None
    height_mm: float | None
    mix: str
    al_nh: float | None
    al_tolerance_percent: float | None
    source: str
    basis: str
    as_of: date
    note: str


@dataclass(frozen=True)
class ConductorRow:
    """What a winding may be made of."""

    name: str
    outer_mm: float | None
    source: str
    basis: str
    as_of: date
    note: str


@dataclass(frozen=True)
class DesignRow:
    """A design with its evidence as far as the viewer may see it (see contract, evidence of a design).

    evidence: one object per band asked for. joint: the same over all bands asked, device by device;
    None where fewer than two bands were asked. own_devices: how many of them are the viewer's.
    """

    key: str
    title: str
    recipe: dict[str, Any]
    purpose: str
    principle: str
    ratio: str
    mix: str
    core: str
    core_count: int
    turns: int
    style: str
    evidence: tuple[dict[str, Any], ...]
    joint: dict[str, Any] | None
    own_devices: int


@dataclass(frozen=True)
class FamilyRow:
    """Designs that share part of a recipe, pooled; evidence is one object per band asked for.

    kind: "core_and_turns" (shared: core, core_count, turns) or "mix_and_ratio" (shared: ratio); both share
    the mix. designs: how many of them the viewer's circle sees on some of these bands. pooled: the most
    devices on one band, as coarsely as the circle sees counts; the order of rows.
    """

    kind: str
    mix: str
    shared: dict[str, Any]
    designs: int
    pooled: int
    evidence: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class NeighbourRow:
    """A design one step away, and the step in words: "two more turns", "same turns, other mix"."""

    step: str
    design: DesignRow


@dataclass(frozen=True)
class MatchRow:
    """A design like a recipe that is being typed. differs: what of it is otherwise; empty: nothing so far."""

    key: str
    title: str
    differs: tuple[str, ...]


@dataclass(frozen=True)
class CurveSet:
    """A design's curves over frequency: statistics for all circles, samples for members only.

    Each statistic is {"median", "p10", "p90"} -> list of F numbers or None; for the public p10 and p90
    are None. samples: rejection in dB of each device, identity-free and in random order.
    """

    freq_hz: tuple[float, ...]
    rejection_db: dict[str, list[float | None] | None]
    resistance_ohm: dict[str, list[float | None] | None]
    reactance_ohm: dict[str, list[float | None] | None]
    impedance_ohm: dict[str, list[float | None] | None]
    devices: int | str
    samples: tuple[list[float | None], ...]


@dataclass(frozen=True)
class OwnCurveRow:
    """The newest curve of one of the viewer's own devices, F points: None where the sweep does not reach."""

    device: str
    tag: str
    test: str
    freq_hz: tuple[float, ...]
    rejection_db: list[float | None]
    resistance_ohm: list[float | None]
    reactance_ohm: list[float | None]
    impedance_ohm: list[float | None]


@dataclass(frozen=True)
class DeviceRow:
    """A device as its owner, the operator of its night or a steward sees it.

    place: where it is in service; never in evidence. retired_on: out of service for good.
    """

    key: str
    design: str
    design_title: str
    tag: str
    origin: str
    built_on: date | None
    notes: str
    registered_at: datetime
    version: int
    owner: str
    tests: int
    place: str
    retired_on: date | None


@dataclass(frozen=True)
class SweepRow:
    """A stored file of a test; its bytes come from `tests.sweep`."""

    role: str
    name: str
    points: int
    ports: int
    size: int
    sha256: str


@dataclass(frozen=True)
class TestRow:
    """A test with its current result.

    evidence: "counts" or "left_out". published: its figures stand in the current release.
    night: key of the club night it was made on; None at home.
    """

    key: str
    device: str
    device_tag: str
    design: str
    design_title: str
    kind: str
    method: str
    measured_on: date
    recorded_at: datetime
    settings: dict[str, Any]
    result: dict[str, Any]
    sweeps: tuple[SweepRow, ...]
    evidence: str
    published: bool
    excluded_reason: str
    night: str | None = None


@dataclass(frozen=True)
class ComparisonRow:
    """Where an own test stands: against its own recipe and within its design's evidence.

    bands without enough evidence carry nulls. checks: notes on the recipe (its turns, its inductance), of
    the form of a result's flags. outlier: whether the curve leaves the range of the design's, None where
    nobody can say. causes: why it may, each with the figures it rests on (see `rf.difference_causes`).
    likelihoods: how likely each thing that may be wrong is (see `rf.difference_likelihood`).
    """

    test: str
    design: str
    design_title: str
    release: int | None
    bands: tuple[dict[str, Any], ...]
    checks: tuple[dict[str, Any], ...]
    outlier: bool | None
    causes: tuple[dict[str, Any], ...]
    likelihoods: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True)
class EvidenceItem:
    """One identity-free row of the current release: a device's figures on a band.

    `id` and `sample` are random and new in every release; rows of one device share `sample`.
    """

    id: str
    sample: str
    design: str
    month: str
    band: str
    coverage: str
    rejection_worst_db: float
    rejection_centre_db: float
    rejection_best_db: float
    resistance_smallest_ohm: float | None
    impedance_smallest_ohm: float | None
    self_resonance_hz: float | None


@dataclass(frozen=True)
class ReleaseRow:
    """A numbered release of the evidence."""

    number: int
    made_at: datetime
    engine_version: str
    region: int
    thresholds: dict[str, Any]
    counts: dict[str, Any]
    content_sha256: str


@dataclass(frozen=True)
class ReleaseFileRow:
    """A file of a release; its bytes come from `release_files.content`."""

    name: str
    circle: str
    media_type: str
    size: int
    sha256: str


@dataclass(frozen=True)
class PublishedRow:
    """Exactly what is published of a viewer's device: the row's figures, nothing else."""

    device: str
    device_tag: str
    test: str
    design: str
    month: str
    bands: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class CrowdedRow:
    """A design of which the viewer has more tested devices than may vote: the newest tests do."""

    design: str
    title: str
    devices: int
    voting: int
