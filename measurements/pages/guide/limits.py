"""Guide: the limits that a test is held against today, in words, and whose they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from measurements.pages import figures
from measurements.queries.rows import BenchmarkRow
from measurements.rf.settings import Limits

# metric: words, whether more is better, unit, and the engine's own value where the group has set none
_METRICS: dict[str, tuple[str, bool, str, float]] = {
    "rejection_db": ("rejection", True, "dB", Limits.benchmark_db),
    "swr": ("SWR", False, "", Limits.swr),
    "loss_db": ("loss", False, "dB", Limits.loss_db),
    "amplitude_imbalance_db": ("amplitude imbalance", False, "dB", Limits.amplitude_db),
    "phase_imbalance_deg": ("phase imbalance", False, "degrees", Limits.phase_deg),
}


@dataclass(frozen=True)
class LimitWords:
    """One limit: what it asks, whose it is."""

    text: str
    source: str


def in_words(wanted: Iterable[tuple[str, str]], rows: Iterable[BenchmarkRow]) -> tuple[LimitWords, ...]:
    """The limits of these kinds and metrics; of several rows the newest counts."""
    newest: dict[tuple[str, str], BenchmarkRow] = {}
    for row in sorted(rows, key=lambda row: row.as_of):
        newest[row.kind, row.metric] = row
    return tuple(_words(metric, newest.get((kind, metric))) for kind, metric in wanted)


def _words(metric: str, row: BenchmarkRow | None) -> LimitWords:
    name, more_is_better, unit, default = _METRICS[metric]
    value = default if row is None else row.value
    text = f"{name} at {'least' if more_is_better else 'most'} {figures.short(value)} {unit}".rstrip()
    return LimitWords(text, "House default." if row is None else f"{row.source}.")
