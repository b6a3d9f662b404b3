"""The limits that tests are held against: the group's newest benchmark of each metric."""

from __future__ import annotations

from dataclasses import replace

from measurements.models import Benchmark
from measurements.rf.settings import Limits

# metric of a benchmark row: the field of Limits
_FIELDS = {
    ("common_mode", "rejection_db"): "benchmark_db",
    ("load_match", "swr"): "swr",
    ("insertion_loss", "loss_db"): "loss_db",
    ("balance", "amplitude_imbalance_db"): "amplitude_db",
    ("balance", "phase_imbalance_deg"): "phase_deg",
}


def current(*, benchmark_db: float | None = None) -> Limits:
    """The limits in force; `benchmark_db` in place of the group's own where a test asks for another."""
    limits = Limits()
    for kind, metric, value in Benchmark.objects.order_by("as_of", "pk").values_list(
        "kind", "metric", "value"
    ):
        field = _FIELDS.get((kind, metric))
        if field is not None:
            limits = replace(limits, **{field: value})
    return limits if benchmark_db is None else replace(limits, benchmark_db=benchmark_db)
