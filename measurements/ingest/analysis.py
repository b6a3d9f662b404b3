"""From uploaded bytes to figures, without storing anything: what `tests.record` does first, and what
`analyse/` and the preview of the upload page do alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from measurements.disclosure.circles import ANONYMOUS, Viewer
from measurements.ingest import limits, partners, sweep_reading, uploads
from measurements.ingest.uploads import TestSettings, Upload
from measurements.models import Allocation, group
from measurements.models.prepared import Prepared
from measurements.rf import readings
from measurements.rf.analysis import Analysis, Request, analyse
from measurements.rf.bands import Band
from measurements.rf.loss_curve import LossCurve
from measurements.rf.readings import Readings
from measurements.rf.settings import Limits, parse_ratio
from measurements.rf.sweep import Sweep

_BAND_PLAN = Prepared(
    lambda region, on: Allocation.objects.in_force(region, on).values_list("band", "start_hz", "stop_hz"),
    int,
    date,
)


Plan = Callable[[int, date], tuple[Band, ...]]


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
    by: Viewer = ANONYMOUS,
) -> Analysed:
    """Reads every file and computes the figures of the test.

    by: whose partner test may be used (`known_partner`).
    on: the day whose band plan counts; today by default. same_bytes: the bytes are stored already.
    Raises BenchnightError naming the field (and the line) at fault.
    """
    uploads.check_roles(uploads_by_role)
    sweeps = sweep_reading.by_role(uploads_by_role)
    partner = partners.seen(by, settings.partner) if settings.partner else None
    request = request_of(sweeps=sweeps, settings=settings, on=on, same_bytes=same_bytes, partner=partner)
    return Analysed(analyse(request), sweeps)


def request_of(
    *,
    sweeps: Mapping[str, Sweep],
    settings: TestSettings,
    on: date | None = None,
    same_bytes: bool = False,
    partner: LossCurve | None = None,
    judged_by: Limits | None = None,
    plan: Plan | None = None,
) -> Request:
    """What the engine is asked: the sweeps, how they were wired, and the limits and bands in force.

    judged_by: the limits to hold it against in place of those in force. plan: `band_plan`, or what keeps its
    answers for many tests at once.
    """
    day = on or timezone.now().date()
    return Request(
        kind=settings.kind,
        method=settings.method,
        ratio=parse_ratio(settings.ratio),
        sweeps=dict(sweeps),
        readings=_readings(settings),
        load_ohm=settings.load_ohm,
        series_ohm=settings.series_ohm,
        calibrated=settings.calibrated,
        limits=judged_by or limits.current(benchmark_db=settings.benchmark_db),
        bands=(plan or band_plan)(settings.region or group.region(), day),
        partner=partner,
        same_bytes=same_bytes,
    )


def _readings(settings: TestSettings) -> Readings | None:
    """Typed readings; an SWR is never below 1, a rejection or loss never negative."""
    if not settings.readings:
        return None
    least = 1.0 if settings.kind == "load_match" else 0.0
    return readings.read_readings(list(settings.readings), least=least)


def band_plan(region: int, on: date) -> tuple[Band, ...]:
    """The bands of an ITU region as allocated on a day, lowest first."""
    return tuple(Band(*row) for row in _BAND_PLAN.all(region, on))
