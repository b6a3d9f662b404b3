"""Reference data as rows: everybody may read it."""

from __future__ import annotations

from datetime import date

from django.utils import timezone

from measurements.models import Allocation, Benchmark, Conductor, Core, Mix, group
from measurements.queries.rows import BandRow, BenchmarkRow, ConductorRow, CoreRow, MixRow

_SOURCED = ("source", "basis", "as_of", "note")


def region() -> int:
    """The ITU region of the group."""
    return group.region()


def bands(of_region: int | None = None, on: date | None = None) -> tuple[BandRow, ...]:
    """The band plan of a region (the group's own by default) on a day (today by default)."""
    day = on or timezone.now().date()
    rows = Allocation.objects.in_force(of_region or region(), day)
    columns = ("region", "band", "start_hz", "stop_hz", "valid_from", "valid_to", *_SOURCED)
    return tuple(BandRow(*row) for row in rows.values_list(*columns))


def plan() -> tuple[BandRow, ...]:
    """Every row of the group's own band plan, past and to come, by frequency and then by date."""
    rows = Allocation.objects.filter(region=region()).order_by("start_hz", "band", "valid_from")
    columns = ("region", "band", "start_hz", "stop_hz", "valid_from", "valid_to", *_SOURCED)
    return tuple(BandRow(*row) for row in rows.values_list(*columns))


def benchmarks() -> tuple[BenchmarkRow, ...]:
    """Every limit, newest first within its metric."""
    columns = ("kind", "metric", "value", "unit", *_SOURCED)
    rows = Benchmark.objects.order_by("kind", "metric", "-as_of")
    return tuple(BenchmarkRow(*row) for row in rows.values_list(*columns))


def benchmark_db() -> float:
    """The group's benchmark of rejection, in dB."""
    newest = Benchmark.objects.filter(kind="common_mode", metric="rejection_db").order_by("-as_of").first()
    return 20.0 if newest is None else newest.value  # common practice, no published source


def mixes() -> tuple[MixRow, ...]:
    """Ferrite materials by name."""
    columns = ("name", "initial_permeability", "curie_c", "resistivity_ohm_cm", "rows", *_SOURCED)
    found = Mix.objects.order_by("name").values_list(*columns)
    return tuple(MixRow(*row[:4], tuple(tuple(point) for point in row[4]), *row[5:]) for row in found)


def cores() -> tuple[CoreRow, ...]:
    """Cores by shape, then the largest first."""
    columns = ("part", "shape", "outer_mm", "inner_mm", "height_mm", "mix", "al_nh", "al_tolerance_percent")
    rows = Core.objects.order_by("shape", "-outer_mm", "part")
    return tuple(CoreRow(*row) for row in rows.values_list(*columns, *_SOURCED))


def conductors() -> tuple[ConductorRow, ...]:
    """What a winding may be made of, by name."""
    rows = Conductor.objects.order_by("name").values_list("name", "outer_mm", *_SOURCED)
    return tuple(ConductorRow(*row) for row in rows)
