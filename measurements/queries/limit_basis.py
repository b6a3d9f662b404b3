"""Whose the limit is that a stored result was held against: the trade's, the house's or the group's."""

from __future__ import annotations

from typing import Any

from measurements.models import Benchmark

ASKED = "asked for with this test"
# kind of test: part of its summary, and the benchmark it comes from
_LIMITS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "common_mode": (("benchmark_db", "common_mode", "rejection_db"),),
    "load_match": (("swr_limit", "load_match", "swr"),),
    "in_situ": (("swr_limit", "load_match", "swr"),),
    "insertion_loss": (("loss_limit_db", "insertion_loss", "loss_db"),),
    "balance": (
        ("amplitude_limit_db", "balance", "amplitude_imbalance_db"),
        ("phase_limit_deg", "balance", "phase_imbalance_deg"),
    ),
}


def of_result(figures: dict[str, Any]) -> str:
    """`common practice`, `house default`, `set by the group`, ... ; empty where no limit was held against it.

    A limit that no row of the group has was asked for by whoever made the test. One query.
    """
    wanted = [
        (kind, metric, figures["summary"][name])
        for name, kind, metric in _LIMITS[figures["kind"]]
        if figures["summary"].get(name) is not None
    ]
    rows = Benchmark.objects.filter(kind__in=[row[0] for row in wanted]).order_by("as_of", "pk")
    known = {
        (kind, metric, value): basis
        for kind, metric, value, basis in rows.values_list("kind", "metric", "value", "basis")
    }
    return ", ".join(dict.fromkeys(known.get(limit, ASKED) for limit in wanted))
