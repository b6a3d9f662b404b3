"""How stewards' pages say things."""

from __future__ import annotations

from measurements.pages.layout import figures, wording
from measurements.selectors.reference.reference import BandRow, BenchmarkRow

ROLES = {
    "member": "member: own devices and tests",
    "operator": "operator: runs club nights too",
    "steward": "steward: looks after the group",
}
LIMIT_NAMES = {
    "common_mode.rejection_db": "Common mode: rejection, dB, at least",
    "load_match.swr": "Load match: SWR, at most",
    "insertion_loss.loss_db": "Insertion loss: loss, dB, at most",
    "balance.amplitude_imbalance_db": "Balance: amplitude imbalance, dB, at most",
    "balance.phase_imbalance_deg": "Balance: phase imbalance, degrees, at most",
}
REVIEW_QUEUES = {
    "open": "To look at",
    "excluded": "Left out",
    "reviewed": "Looked at",
}
ACTION_MEANINGS = {
    "exclude": "The test is left out of evidence; its owner reads why.",
    "include": "The test counts again from the next release on, as far as its flags let it.",
    "review": "The test is off the list.",
}


def format_band_edges(row: BandRow) -> str:
    """Return `7 to 7.2 MHz`."""
    return f"{row.start_hz / 1e6:.6g} to {row.stop_hz / 1e6:.6g} MHz"


def format_limit(row: BenchmarkRow) -> str:
    """Return `20 dB`."""
    unit = {"1": "", "deg": " degrees"}.get(row.unit, f" {row.unit}")
    return f"{row.value:g}{unit}"


def get_limit_name(row: BenchmarkRow) -> str:
    return LIMIT_NAMES.get(
        f"{row.kind}.{row.metric}", f"{wording.KINDS.get(row.kind, row.kind)}: {row.metric}"
    )


def format_core_dimensions(outer_mm: float, inner_mm: float, height_mm: float) -> str:
    """Return `62 x 36.1 x 12.9 mm`."""
    return f"{outer_mm:g} × {inner_mm:g} × {height_mm:g} mm"


def format_device_count(count: int) -> str:
    return f"{count} device{'' if count == 1 else 's'}"


def format_log_detail(found: dict[str, object]) -> str:
    """Build the detail column of a line of the log."""
    return ", ".join(f"{name.replace('_', ' ')} {_format_log_value(value)}" for name, value in found.items())


def _format_log_value(value: object) -> str:
    if value is None:
        return figures.NO_VALUE
    if isinstance(value, list):
        return " ".join(str(each) for each in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
