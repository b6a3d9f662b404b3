"""The group's limits, intervals and margins in force, as the rules of upkeep take them."""

from __future__ import annotations

from measurements.queries import group_settings, reference
from measurements.verdict.service_facts import Rules

_JUDGED = {("common_mode", "rejection_db"), ("load_match", "swr"), ("insertion_loss", "loss_db")}


def rules() -> Rules:
    """Settings of the group: what stewards set, else house defaults."""
    names = (
        "service_test_interval_days",
        "service_inspection_interval_days",
        "service_watch_margin_db",
        "service_drift_db",
    )
    values = group_settings.values(*names)
    test_days, inspection_days, margin_db, drift_db = (values[name] for name in names)
    return Rules(int(test_days), int(inspection_days), margin_db, drift_db)


def limits() -> dict[str, float]:
    """kind -> the limit in force; the newest benchmark of each metric counts."""
    found: dict[str, float] = {}
    for row in sorted(reference.benchmarks(), key=lambda row: row.as_of):
        if (row.kind, row.metric) in _JUDGED:
            found[row.kind] = row.value
    return found
