"""Stewards set the limits that tests are held against: dated rows, of which the newest counts.

Stored results keep the limit they were judged by, also when a newer engine computes them again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit, written
from measurements.ingest.band_plan import BY_GROUP
from measurements.ingest.problems import Faults
from measurements.models import Benchmark


@dataclass(frozen=True)
class Metric:
    """What a limit may be. step: the public sees rejections in halves of a decibel, so does the benchmark."""

    unit: str
    low: float
    high: float
    step: float
    meaning: str


METRICS: dict[tuple[str, str], Metric] = {
    ("common_mode", "rejection_db"): Metric("dB", 10.0, 40.0, 0.5, "At least, at the worst point of a band."),
    ("load_match", "swr"): Metric("1", 1.01, 10.0, 0.01, "At most, at the worst point of a band."),
    ("insertion_loss", "loss_db"): Metric("dB", 0.01, 10.0, 0.01, "At most, at the worst point of a band."),
    ("balance", "amplitude_imbalance_db"): Metric("dB", 0.01, 20.0, 0.01, "At most, in magnitude."),
    ("balance", "phase_imbalance_deg"): Metric("deg", 0.1, 90.0, 0.1, "At most, away from 180 degrees."),
}


def change(*, by: Viewer, kind: str, metric: str, value: float, as_of: date, source: str) -> None:
    """Sets a limit from a day on: today, or an earlier day after which nothing newer was set.

    A limit of that very day is mended in place; what it was stands in the audit log.
    Raises BenchnightError `benchmark.unknown`, or `benchmark.invalid` with every fault.
    """
    policy.check_steward(by)
    rule = METRICS.get((kind, metric))
    if rule is None:
        raise BenchnightError("benchmark.unknown", "There is no such limit.", kind="not_found")
    plain = _checked(rule, kind, metric, value, as_of, source)
    with transaction.atomic():
        before = Benchmark.objects.filter(kind=kind, metric=metric).order_by("-as_of").first()
        Benchmark.objects.update_or_create(
            kind=kind,
            metric=metric,
            as_of=as_of,
            defaults={
                "value": value,
                "unit": rule.unit,
                "source": plain,
                "basis": BY_GROUP,
                "note": rule.meaning,
            },
        )
        audit.note(
            by=by,
            action="benchmark.change",
            subject=f"{kind}.{metric}",
            before=None if before is None else before.value,
            after=value,
            as_of=as_of.isoformat(),
        )


def _checked(rule: Metric, kind: str, metric: str, value: float, as_of: date, source: str) -> str:
    faults = Faults("benchmark.invalid", "Some fields of the limit need mending; see the list.")
    steps = value / rule.step if math.isfinite(value) else math.nan
    if not (rule.low <= value <= rule.high and math.isclose(steps, round(steps), abs_tol=1e-6)):
        faults.add(
            "value",
            "benchmark.value",
            f"Give a number from {rule.low:g} to {rule.high:g} in steps of {rule.step:g}.",
        )
    newest = Benchmark.objects.filter(kind=kind, metric=metric).order_by("-as_of").first()
    if as_of > timezone.now().date() or (newest is not None and as_of < newest.as_of):
        since = "" if newest is None else f" from {newest.as_of.isoformat()}"
        faults.add("as_of", "benchmark.as_of", f"Give a day{since} up to today.")
    plain = ""
    try:
        plain = written.text(source, "source", "benchmark.source", "Say who decided this and why.")
    except BenchnightError as error:
        faults.take(error)
    faults.raise_any()
    return plain
