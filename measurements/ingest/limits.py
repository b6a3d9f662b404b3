"""The limits that tests are held against: the group's newest benchmark of each metric."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from measurements.models import Benchmark
from measurements.models.prepared import Prepared
from measurements.rf.settings import Limits

# metric of a benchmark row: the field of Limits
_FIELDS = {
    ("common_mode", "rejection_db"): "benchmark_db",
    ("load_match", "swr"): "swr",
    ("insertion_loss", "loss_db"): "loss_db",
    ("balance", "amplitude_imbalance_db"): "amplitude_db",
    ("balance", "phase_imbalance_deg"): "phase_deg",
}


_OLDEST_FIRST = Prepared(
    lambda: Benchmark.objects.order_by("as_of", "pk").values_list("kind", "metric", "value")
)

# where a stored result says which limit it was judged by: part of its summary, field of Limits
_JUDGED_BY = {
    "benchmark_db": "benchmark_db",
    "swr_limit": "swr",
    "loss_limit_db": "loss_db",
    "amplitude_limit_db": "amplitude_db",
    "phase_limit_deg": "phase_deg",
}


def judged_by(summary: Mapping[str, Any], in_force: Limits) -> Limits:
    """The limits that a stored result with this summary was held against; in force: what it lacks."""
    kept = {field: summary[name] for name, field in _JUDGED_BY.items() if summary.get(name) is not None}
    return replace(in_force, **kept)


def current(*, benchmark_db: float | None = None) -> Limits:
    """The limits in force; `benchmark_db` in place of the group's own where a test asks for another."""
    limits = Limits()
    for kind, metric, value in _OLDEST_FIRST.all():
        field = _FIELDS.get((kind, metric))
        if field is not None:
            limits = replace(limits, **{field: value})
    return limits if benchmark_db is None else replace(limits, benchmark_db=benchmark_db)
