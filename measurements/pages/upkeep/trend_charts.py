"""Which band's trend a device's page shows, and the table behind it."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from measurements.charts import trend_chart
from measurements.charts.colours import Tone
from measurements.charts.panel_layers import Spec
from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import figures
from measurements.pages.layout.tables import Table
from measurements.selectors.upkeep import service_states
from measurements.selectors.upkeep.rows import ServiceRow
from measurements.selectors.upkeep.service_states import TrendRow


def build_trend_context(viewer: Viewer, key: str, state: ServiceRow, wanted: str) -> dict[str, Any]:
    """Collect the rows of the trend; nothing where a device has fewer than two tests."""
    row = service_states.get_device_trend(viewer, key)
    if max((len(points) for points in row.by_band.values()), default=0) < 2:
        return {}
    band = wanted if wanted in row.by_band else choose_trend_band(row, state)
    address = {"key": key}
    return {
        "trend_band": band,
        "trend_bands": row.bands,
        "trend_address": reverse("pages:device_trend", kwargs={**address, "form": "json"}),
        "trend_picture": reverse("pages:device_trend", kwargs={**address, "form": "svg"}),
        "trend_table": build_trend_table(row),
    }


def choose_trend_band(row: TrendRow, state: ServiceRow) -> str:
    """Return the band that lost most since commissioning; without a baseline the one nearest to the
    benchmark.
    """
    lost = sorted(state.change, key=lambda each: each.change_db)
    if lost and lost[0].band in row.by_band:
        return lost[0].band
    above = [(points[-1].rejection_db, band) for band, points in row.by_band.items()]
    meeting = [pair for pair in above if pair[0] >= state.limits.benchmark_db]
    return min(meeting or above)[1]


def build_trend_table(row: TrendRow) -> Table:
    """Test by test, the newest first, a column a band."""
    tests: dict[str, tuple[str, bool, dict[str, str]]] = {}
    days: dict[str, Any] = {}
    for band, points in row.by_band.items():
        for point in points:
            days[point.test] = point.measured_on
            written = tests.setdefault(point.test, (f"{point.measured_on:%d %b %Y}", point.counts, {}))[2]
            written[band] = ("≥ " if point.at_least else "") + figures.format_number(point.rejection_db)
    newest_first = sorted(tests, key=lambda test: days[test], reverse=True)
    rows = tuple(
        (
            tests[test][0] + ("" if tests[test][1] else " (left out)"),
            *(tests[test][2].get(band, figures.NO_VALUE) for band in row.bands),
        )
        for test in newest_first
    )
    return Table(("Measured on", *(f"{band}, dB" for band in row.bands)), rows)


def build_trend_spec(
    row: TrendRow, state: ServiceRow, band: str, *, tone: Tone, width_px: int | None
) -> Spec | None:
    """Return the chart of one band, with what the state says of it."""
    points = row.by_band.get(band, ())
    baseline_db = next(
        (
            point.rejection_db
            for point in points
            if state.baseline is not None and point.test == state.baseline.test
        ),
        None,
    )
    return trend_chart.build_trend_chart(
        band,
        points,
        benchmark_db=state.limits.benchmark_db,
        baseline_db=baseline_db,
        real_from_db=state.repeatability.real_from_db.get(band),
        tone=tone,
        width_px=width_px,
    )
