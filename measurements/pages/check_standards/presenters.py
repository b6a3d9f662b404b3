"""A check standard's charts, offsets and holds in words and tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from measurements.pages.layout import figures
from measurements.pages.layout.tables import Table
from measurements.pages.layout.wording import Badge, format_method
from measurements.selectors.check_standards.check_standards import (
    BandRow,
    ChartRow,
    NightCheckRow,
    OffsetRow,
    StandardRow,
)

STATES = {
    "in_control": Badge(
        "In control", "in control", "shape-meets", "is-meets", "The last sweep is within its limits."
    ),
    "out_of_control": Badge(
        "Out of control", "out of control", "shape-short", "is-short", "The last sweep left its limits."
    ),
    "not_enough": Badge(
        "Not enough sweeps yet", "not enough", "shape-few", "is-few", "It takes five sessions of one bench."
    ),
}
ENDED = {
    "": "They wait.",
    "in_control": "A later sweep was in control: they count again.",
    "swept_again": "It was swept again and was out once more; that sweep decides now.",
    "decision": "An operator decided that they count.",
}
DIGITS = {"rejection_db": 1, "swr": 3, "loss_db": 2}
UNITS = {"rejection_db": "dB", "swr": "", "loss_db": "dB"}
CAPTION = (
    "Each mark is a sweep, a triangle one that left its limits. Line: mean; strip: three s about it; dashed: "
    "the limits that each sweep was held against."
)


@dataclass(frozen=True)
class ChartPresentation:
    """One bench's chart. band: the one that is drawn. more: what its picture's address ends with."""

    row: ChartRow
    said: Badge
    words: str
    progress: str
    band: str
    bands: tuple[str, ...]
    address: str
    picture: str
    more: str
    limits: Table
    sweeps: Table


def present_chart(standard: StandardRow, chart: ChartRow, wanted: str = "") -> ChartPresentation:
    """Return a chart with its picture and tables. wanted: a band; else the one to look at first."""
    names = tuple(band.band for band in chart.bands)
    band = wanted if wanted in names else _choose_band(chart)
    place = {"key": standard.key}
    return ChartPresentation(
        row=chart,
        said=STATES[chart.state],
        words=format_method(chart.kind, chart.method),
        progress=_describe_progress(chart),
        band=band,
        bands=names,
        address=reverse("pages:check_standard_chart", kwargs={**place, "form": "json"}),
        picture=reverse("pages:check_standard_chart", kwargs={**place, "form": "svg"}),
        more=f"&chart={chart.number}&band={band}",
        limits=_build_limits_table(chart),
        sweeps=_build_sweeps_table(chart),
    )


def _choose_band(chart: ChartRow) -> str:
    """Return the band whose last sweep is farthest out, in shares of its limit; else the middle one."""
    far = {band.band: _measure_distance(band) for band in chart.bands}
    worst = max(far, key=lambda name: far[name])
    return worst if far[worst] > 0 else chart.bands[len(chart.bands) // 2].band


def _measure_distance(band: BandRow) -> float:
    last = band.points[-1]
    if last.value is None or last.low is None or last.high is None or last.high <= last.low:
        return 0.0
    return abs(2 * last.value - last.low - last.high) / (last.high - last.low)


def _describe_progress(chart: ChartRow) -> str:
    if chart.state == "not_enough" and chart.sessions < chart.least_sessions:
        return (
            f"Not enough sweeps yet: {chart.sessions} of {chart.least_sessions} sessions. Until then no test "
            "waits for it."
        )
    return f"{chart.sweeps} sweeps in {chart.sessions} sessions, the last on {chart.last_on:%d %b %Y}."


def _build_limits_table(chart: ChartRow) -> Table:
    digits, unit = DIGITS[chart.figure], UNITS[chart.figure]
    write = lambda value: figures.format_number(value, digits)  # noqa: E731
    heads = ("Band", *(_head(name, unit) for name in ("Last", "Mean", "3 s", "At least", "At most")))
    rows = tuple(
        (
            band.band,
            *map(write, (band.points[-1].value, band.mean, band.three_s, band.low, band.high)),
            str(band.sessions),
        )
        for band in chart.bands
    )
    return Table((*heads, "Sessions"), rows)


def _build_sweeps_table(chart: ChartRow) -> Table:
    """Return every sweep, the newest first; a figure outside its limits is marked in words."""
    digits = DIGITS[chart.figure]
    rows = []
    for at in reversed(range(chart.sweeps)):
        points = [band.points[at] for band in chart.bands]
        cells = (
            figures.format_number(point.value, digits) + (" out" if point.outside else "") for point in points
        )
        rows.append((f"{points[0].on:%d %b %Y}", *cells))
    heads = ("Measured on", *(_head(band.band, UNITS[chart.figure]) for band in chart.bands))
    return Table(heads, tuple(rows))


def build_offset_table(offset: OffsetRow) -> Table:
    """Return per band what the bench reads above the reference, with U."""
    digits, unit = DIGITS[offset.figure], UNITS[offset.figure]
    rows = tuple(
        (
            band,
            _write_signed(difference, digits),
            figures.format_number(u, digits),
            _read_offset(difference, u),
        )
        for band, difference, u in offset.bands
    )
    return Table(("Band", _head("Reads above", unit), _head("U (95 %)", unit), "Which is"), rows)


def _read_offset(difference: float, u: float) -> str:
    if abs(difference) <= u:
        return "no difference shown"
    return "higher" if difference > 0 else "lower"


def _write_signed(value: float, digits: int) -> str:
    return f"{value:+.{digits}f}".replace("-", "−")


def _head(name: str, unit: str) -> str:
    return f"{name}, {unit}" if unit else name


def build_night_context(checks: tuple[NightCheckRow, ...], holds: tuple[Any, ...]) -> dict[str, Any]:
    """Return what a night's page needs: standards with the charts of its bench, and tests that wait."""
    return {
        "checks": [
            {
                "standard": check.standard,
                "swept": check.swept,
                "charts": [present_chart(check.standard, chart) for chart in check.charts],
            }
            for check in checks
        ],
        "check_holds": [{"row": hold, "ended": ENDED[hold.ended_how]} for hold in holds],
        "check_caption": CAPTION,
    }
