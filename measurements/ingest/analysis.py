"""From uploaded bytes to figures, without storing anything: what `tests.record` does first, and what
`analyse/` and the preview of the upload page do alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.conf import settings as django_settings
from django.utils import timezone

from measurements.ingest import limits, uploads
from measurements.ingest.uploads import TestSettings, Upload
from measurements.models import Allocation
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
    """The figures of sweeps that are read already (a recomputation reads none again)."""
    day = on or timezone.now().date()
    request = Request(
        kind=settings.kind,
        method=settings.method,
        ratio=parse_ratio(settings.ratio),
        sweeps=dict(sweeps),
        readings=readings.read_readings(list(settings.readings)) if settings.readings else None,
        load_ohm=settings.load_ohm,
        series_ohm=settings.series_ohm,
        calibrated=settings.calibrated,
        limits=limits.current(benchmark_db=settings.benchmark_db),
        bands=band_plan(settings.region or django_settings.BENCHNIGHT_REGION, day),
        same_bytes=same_bytes,
    )
    return Analysed(analyse(request), dict(sweeps))


def band_plan(region: int, on: date) -> tuple[Band, ...]:
    """The bands of an ITU region as allocated on a day, lowest first."""
    rows = Allocation.objects.filter(region=region, valid_from__lte=on).exclude(valid_to__lt=on)
    return tuple(
        Band(name, start_hz, stop_hz)
        for name, start_hz, stop_hz in rows.order_by("start_hz").values_list("band", "start_hz", "stop_hz")
    )
