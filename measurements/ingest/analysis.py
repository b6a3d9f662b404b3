"""From uploaded bytes to figures, without storing anything: what `tests.record` does first, and what
`analyse/` and the preview of the upload page do alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from measurements.ingest import limits, uploads
from measurements.ingest.uploads import TestSettings, Upload
from measurements.models import Allocation, group
from measurements.rf import reading, readings
from measurements.rf.analysis import Analysis, Request, analyse
from measurements.rf.bands import Band
from measurements.rf.settings import parse_ratio
from measurements.rf.sweep import Sweep


@dataclass(frozen=True)
class Analysed:
    """The figures, and the sweeps they were computed from, by role."""

    analysis: Analysis
    sweeps: dict[str, Sweep]


def of_uploads(
    *,
    uploads_by_role: Mapping[str, Upload],
    settings: TestSettings,
    on: date | None = None,
    same_bytes: bool = False,
) -> Analysed:
    """Reads every file and computes the figures of the test.

    on: the day whose band plan counts; today by default. same_bytes: the bytes are stored already.
    Raises BenchnightError naming the field (and the line) at fault.
    """
    uploads.check_roles(uploads_by_role)
    sweeps = {
        role: reading.read(upload.data, upload.name, role=role) for role, upload in uploads_by_role.items()
    }
    return of_sweeps(sweeps=sweeps, settings=settings, on=on, same_bytes=same_bytes)


def of_sweeps(
    *, sweeps: Mapping[str, Sweep], settings: TestSettings, on: date | None = None, same_bytes: bool = False
) -> Analysed:
    """The figures of sweeps that are read already."""
    request = request_of(sweeps=sweeps, settings=settings, on=on, same_bytes=same_bytes)
    return Analysed(analyse(request), dict(sweeps))


def request_of(
    *, sweeps: Mapping[str, Sweep], settings: TestSettings, on: date | None = None, same_bytes: bool = False
) -> Request:
    """What the engine is asked: the sweeps, how they were wired, and the limits and bands in force."""
    day = on or timezone.now().date()
    return Request(
        kind=settings.kind,
        method=settings.method,
        ratio=parse_ratio(settings.ratio),
        sweeps=dict(sweeps),
        readings=readings.read_readings(list(settings.readings)) if settings.readings else None,
        load_ohm=settings.load_ohm,
        series_ohm=settings.series_ohm,
        calibrated=settings.calibrated,
        limits=limits.current(benchmark_db=settings.benchmark_db),
        bands=band_plan(settings.region or group.region(), day),
        same_bytes=same_bytes,
    )


def band_plan(region: int, on: date) -> tuple[Band, ...]:
    """The bands of an ITU region as allocated on a day, lowest first."""
    rows = Allocation.objects.in_force(region, on).values_list("band", "start_hz", "stop_hz")
    return tuple(Band(*row) for row in rows)
