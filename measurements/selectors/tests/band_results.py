"""A member's own results as one table: a row for each test and band, figures in columns of their own."""

from __future__ import annotations

from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.selectors import paging
from measurements.selectors.paging import Page
from measurements.selectors.tests import tests
from measurements.selectors.tests.tests import TestRow

# figures of a band that are objects of worst, worst_hz, centre and best
METRICS = (
    "rejection_db",
    "resistance_ohm",
    "impedance_ohm",
    "swr",
    "return_loss_db",
    "loss_db",
    "dissipative_db",
    "mismatch_db",
    "amplitude_imbalance_db",
    "phase_imbalance_deg",
    "cmrr_db",
    "swr_through",
    "swr_bypassed",
)
PARTS = ("worst", "worst_hz", "centre", "best")
_OF_BAND = ("band", "start_hz", "stop_hz", "points_in_band", "coverage", "meets", "decision")


def list_band_results(
    viewer: Viewer,
    *,
    device: str | None = None,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[dict[str, Any]]:
    """Return a row for each band of the viewer's own tests, the test that was recorded last first.

    limit: tests a page, each with all its bands. A test of readings of an ohmmeter has no band and no row.
    """
    page = tests.list_tests(viewer, device=device, own=True, cursor=cursor, limit=limit)
    rows = [_build_row(test, band) for test in page.results for band in test.result["bands"]]
    return Page(tuple(rows), page.next_cursor)


def _build_row(test: TestRow, band: dict[str, Any]) -> dict[str, Any]:
    uncertainty = band.get("uncertainty") or {}
    return {
        "test": test.key,
        "device": test.device,
        "device_tag": test.device_tag,
        "design": test.design,
        "kind": test.kind,
        "method": test.method,
        "ratio": test.result.get("ratio"),
        "measured_on": test.measured_on.isoformat(),
        "night": test.night,
        "evidence": test.evidence,
        **{name: band.get(name) for name in _OF_BAND},
        **{name: _list_parts(band.get(name)) for name in METRICS},
        "uncertainty": {name: uncertainty.get(name) for name in METRICS},
        "flags": " ".join(_list_flags(test, band["band"])),
    }


def _list_parts(figure: Any) -> dict[str, float | None] | None:
    """List the parts of a figure; None where the test has none of this metric."""
    if not isinstance(figure, dict):
        return None
    return {part: figure.get(part) for part in PARTS}


def _list_flags(test: TestRow, band: str) -> list[str]:
    """List the codes of flags of the test and of this band, each once."""
    flags = (flag for flag in test.result.get("flags", ()) if flag.get("band") in (None, band))
    return list(dict.fromkeys(flag["code"] for flag in flags))
