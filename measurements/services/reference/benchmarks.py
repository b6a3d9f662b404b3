"""Stewards set the limits that tests are held against: dated rows, of which the newest counts.

Stored results keep the limit they were judged by, also when a newer engine computes them again.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import Benchmark
from measurements.rf.request import Limits
from measurements.services.operations import audit
from measurements.services.reference.band_plan import BY_GROUP


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


def change_benchmark(*, by: Viewer, kind: str, metric: str, value: float, as_of: date, source: str) -> None:
    """Set a limit from a day on: today, or an earlier day after which nothing newer was set.

    Corrects a limit of that very day in place; the audit log holds the earlier value.
    Raises BenchnightError `benchmark.unknown`, or `benchmark.invalid` with every fault.
    """
    policy.check_steward(by)
    rule = METRICS.get((kind, metric))
    if rule is None:
        raise BenchnightError("benchmark.unknown", "There is no such limit.", kind="not_found")
    plain = _check_fields(rule, kind, metric, value, as_of, source)
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
        audit.record_action(
            by=by,
            action="benchmark.change",
            subject=f"{kind}.{metric}",
            before=None if before is None else before.value,
            after=value,
            as_of=as_of.isoformat(),
        )


def _check_fields(rule: Metric, kind: str, metric: str, value: float, as_of: date, source: str) -> str:
    faults = ErrorCollector("benchmark.invalid", "Some fields of the limit need mending; see the list.")
    steps = value / rule.step if math.isfinite(value) else math.nan
    if not (rule.low <= value <= rule.high and math.isclose(steps, round(steps), abs_tol=1e-6)):
        faults.add(
            "value",
            "benchmark.value",
            f"Give a number from {rule.low:g} to {rule.high:g} in steps of {rule.step:g}.",
        )
    newest = Benchmark.objects.filter(kind=kind, metric=metric).order_by("-as_of").first()
    if as_of > timezone.localdate() or (newest is not None and as_of < newest.as_of):
        since = "" if newest is None else f" from {newest.as_of.isoformat()}"
        faults.add("as_of", "benchmark.as_of", f"Give a day{since} up to today.")
    plain = ""
    try:
        plain = audit.parse_justification(
            source, "source", "benchmark.source", "Say who decided this and why."
        )
    except BenchnightError as error:
        faults.take(error)
    faults.raise_any()
    return plain


# The limits that tests are held against: the group's newest benchmark of each metric.

# metric of a benchmark row: the field of Limits
_LIMITS_FIELDS = {
    ("common_mode", "rejection_db"): "benchmark_db",
    ("load_match", "swr"): "swr",
    ("insertion_loss", "loss_db"): "loss_db",
    ("balance", "amplitude_imbalance_db"): "amplitude_db",
    ("balance", "phase_imbalance_deg"): "phase_deg",
}

# kind of evidence: the field of Limits that its judged metric is held against
_EVIDENCE_FIELDS = {"common_mode": "benchmark_db", "load_match": "swr", "insertion_loss": "loss_db"}


def get_limit(in_force: Limits, kind: str) -> float:
    """Get the limit that the judged metric of a kind of evidence is held against, in its unit."""
    limit: float = getattr(in_force, _EVIDENCE_FIELDS[kind])
    return limit


# where a stored result says which limit it was judged by: part of its summary, field of Limits
_SUMMARY_FIELDS = {
    "benchmark_db": "benchmark_db",
    "swr_limit": "swr",
    "loss_limit_db": "loss_db",
    "amplitude_limit_db": "amplitude_db",
    "phase_limit_deg": "phase_deg",
}


def get_limits_of_result(summary: Mapping[str, Any], in_force: Limits) -> Limits:
    """Return the limits that a stored result with this summary was held against; in force: what it lacks."""
    kept = {field: summary[name] for name, field in _SUMMARY_FIELDS.items() if summary.get(name) is not None}
    return replace(in_force, **kept)


def get_current_limits(*, benchmark_db: float | None = None) -> Limits:
    """Read the limits in force; `benchmark_db` in place of the group's own where a test asks for another."""
    oldest_first = Benchmark.objects.order_by("as_of", "pk")
    return build_limits(oldest_first.values_list("kind", "metric", "value"), benchmark_db=benchmark_db)


def build_limits(
    oldest_first: Iterable[tuple[str, str, float]], *, benchmark_db: float | None = None
) -> Limits:
    """Build the limits from rows of (kind, metric, value), of which the last of a metric counts."""
    limits = Limits()
    for kind, metric, value in oldest_first:
        field = _LIMITS_FIELDS.get((kind, metric))
        if field is not None:
            limits = replace(limits, **{field: value})
    return limits if benchmark_db is None else replace(limits, benchmark_db=benchmark_db)
