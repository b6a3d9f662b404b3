"""Reference data as rows: everybody may read it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from measurements.models import (
    Allocation,
    Benchmark,
    Conductor,
    Core,
    GroupSetting,
    Mix,
    group_facts,
    group_settings,
)
from measurements.models.group_settings import SETTING_RULES
from measurements.models.read_once import read_catalogue
from measurements.rf.ferrites import core_names
from measurements.rf.ferrites.core_names import CoreLook

# What stewards set for their group, beside the house defaults: everybody may read it.


@dataclass(frozen=True)
class GroupSettingRow:
    """A number of the group. changed_at: None while it is the house default; version: empty then."""

    name: str
    label: str
    value: float
    default: float
    low: float
    high: float
    unit: str
    meaning: str
    changed_at: datetime | None
    version: str

    @property
    def is_house_default(self) -> bool:
        return self.changed_at is None


def get_setting(name: str) -> float:
    """Return the number in force; whole numbers as int. KeyError for a name that is no setting."""
    return group_settings.get_group_setting(name)


def get_settings(*names: str) -> dict[str, float]:
    """Return several numbers by name (all, where none is named), in one query."""
    return group_settings.get_group_settings(*names)


@read_catalogue
def list_settings() -> tuple[GroupSettingRow, ...]:
    """Return every setting with its house default, in the order of the table."""
    changed = {row.name: row for row in GroupSetting.objects.all()}
    return tuple(_setting_row(name, changed.get(name)) for name in SETTING_RULES)


def _setting_row(name: str, stored: GroupSetting | None) -> GroupSettingRow:
    rule = SETTING_RULES[name]
    number = rule.default if stored is None else stored.value
    return GroupSettingRow(
        name=name,
        label=rule.label,
        value=int(number) if rule.whole else float(number),
        default=rule.default,
        low=rule.low,
        high=rule.high,
        unit=rule.unit,
        meaning=rule.meaning,
        changed_at=None if stored is None else stored.changed_at,
        version="" if stored is None else stored.changed_at.isoformat(),
    )


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

    @property
    def look(self) -> CoreLook:
        """Collect what its name is made of."""
        return CoreLook(self.shape, self.mix, (self.outer_mm, self.inner_mm, self.height_mm), self.part)

    @property
    def name(self) -> str:
        """Name it by size and mix, as the trade does."""
        return core_names.name_core(self.look)


@dataclass(frozen=True)
class ConductorRow:
    """What a winding may be made of."""

    name: str
    outer_mm: float | None
    source: str
    basis: str
    as_of: date
    note: str


_SOURCED = ("source", "basis", "as_of", "note")


def get_group_name() -> str:
    """Return what the group calls itself."""
    return group_facts.get_group_name()


def read_group_facts() -> dict[str, Any]:
    """Read which facts of the group a steward wrote, and what."""
    return group_facts.read_group_facts()


def get_data_terms() -> str:
    """Return under which terms the group's data may be passed on; empty where it has not said."""
    return group_facts.get_data_terms()[1]


def get_region() -> int:
    """Return the ITU region of the group."""
    return group_facts.get_region()


def get_time_zone() -> str:
    """Return the zone of days and hours on pages and in forms, a name of the IANA list."""
    return group_facts.get_time_zone()


def has_demo() -> bool:
    """Tell whether invented people, devices and sweeps of the demo are here."""
    return group_facts.has_demo()


@read_catalogue
def list_bands(of_region: int | None = None, on: date | None = None) -> tuple[BandRow, ...]:
    """Return the band plan of a region (the group's own by default) on a day (today by default)."""
    day = on or timezone.localdate()
    rows = Allocation.objects.in_force(of_region or get_region(), day)
    columns = ("region", "band", "start_hz", "stop_hz", "valid_from", "valid_to", *_SOURCED)
    return tuple(BandRow(*row) for row in rows.values_list(*columns))


@read_catalogue
def list_band_plan() -> tuple[BandRow, ...]:
    """Return every row of the group's own band plan, past and to come, by frequency and then by date."""
    rows = Allocation.objects.filter(region=get_region()).order_by("start_hz", "band", "valid_from")
    columns = ("region", "band", "start_hz", "stop_hz", "valid_from", "valid_to", *_SOURCED)
    return tuple(BandRow(*row) for row in rows.values_list(*columns))


@read_catalogue
def list_benchmarks() -> tuple[BenchmarkRow, ...]:
    """Return every limit, newest first within its metric."""
    columns = ("kind", "metric", "value", "unit", *_SOURCED)
    rows = Benchmark.objects.order_by("kind", "metric", "-as_of")
    return tuple(BenchmarkRow(*row) for row in rows.values_list(*columns))


@read_catalogue
def get_benchmark_db() -> float:
    """Return the group's benchmark of rejection, in dB."""
    newest = Benchmark.objects.filter(kind="common_mode", metric="rejection_db").order_by("-as_of").first()
    return 20.0 if newest is None else newest.value  # common practice, no published source


# of each kind of evidence: its judged metric, and the limit where the group has set none (common practice for
# rejection, house defaults for loss and SWR)
_EVIDENCE_LIMITS = {
    "common_mode": ("rejection_db", 20.0),
    "insertion_loss": ("loss_db", 0.5),
    "load_match": ("swr", 1.5),
}


@read_catalogue
def get_limits() -> dict[str, float]:
    """Return the group's limit of each kind of evidence, in the unit of its judged metric, in one query."""
    rows = Benchmark.objects.order_by("as_of", "pk").values_list("kind", "metric", "value")
    newest = {(kind, metric): value for kind, metric, value in rows}
    return {kind: newest.get((kind, metric), usual) for kind, (metric, usual) in _EVIDENCE_LIMITS.items()}


@read_catalogue
def list_mixes() -> tuple[MixRow, ...]:
    """Return ferrite materials by name."""
    columns = ("name", "initial_permeability", "curie_c", "resistivity_ohm_cm", "rows", *_SOURCED)
    found = Mix.objects.order_by("name").values_list(*columns)
    return tuple(MixRow(*row[:4], tuple(tuple(point) for point in row[4]), *row[5:]) for row in found)


@read_catalogue
def list_cores() -> tuple[CoreRow, ...]:
    """Return cores by shape, then the largest first."""
    columns = ("part", "shape", "outer_mm", "inner_mm", "height_mm", "mix", "al_nh", "al_tolerance_percent")
    rows = Core.objects.order_by("shape", "-outer_mm", "part")
    return tuple(CoreRow(*row) for row in rows.values_list(*columns, *_SOURCED))


@read_catalogue
def get_core_sizes_mm() -> dict[str, core_names.Size]:
    """Look up outer and inner diameter and height of every listed core by part number; None where unknown."""
    columns = ("part", "outer_mm", "inner_mm", "height_mm")
    return {row[0]: (row[1], row[2], row[3]) for row in Core.objects.values_list(*columns)}


@read_catalogue
def list_conductors() -> tuple[ConductorRow, ...]:
    """List the conductors of windings by name."""
    rows = Conductor.objects.order_by("name").values_list("name", "outer_mm", *_SOURCED)
    return tuple(ConductorRow(*row) for row in rows)
