"""What a device's report says, for the page and for the PDF alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.charts import test_chart
from measurements.disclosure.circles import Viewer
from measurements.pages import bench, cautions, history, metrics, recipe_words, trends, words, words_of_upkeep
from measurements.pages.cautions import Caution
from measurements.pages.history import Entry
from measurements.pages.metrics import BandLine, Column
from measurements.pages.shown_state import ShownState, shown_state
from measurements.pages.words import Said
from measurements.queries import designs, devices, inspections, photos, service, tests, trend
from measurements.queries.rows import DesignRow, DeviceRow, TestRow
from measurements.queries.rows_of_upkeep import InspectionRow, PhotoRow
from measurements.queries.trend import TrendRow
from measurements.rf.engine import ENGINE_VERSION

KINDS = ("common_mode", "load_match", "insertion_loss", "balance", "in_situ")
MOST_TESTS = 200
MOST_PHOTOS = 4


@dataclass(frozen=True)
class TestPart:
    """The newest test of a kind: verdict, figures, how it was made, what to know about it."""

    __test__ = False

    row: TestRow
    title: str
    overall: Said
    overall_words: str
    limit: str
    columns: tuple[Column, ...]
    lines: tuple[BandLine, ...]
    summary: list[tuple[str, str]]
    made: list[tuple[str, str]]
    flags: list[str]
    panels: tuple[str, ...]
    traces: dict[str, Any]


@dataclass(frozen=True)
class Report:
    """A report. trend_band: the band whose course is drawn, empty where there are too few tests."""

    device: DeviceRow
    design: DesignRow
    recipe: list[tuple[str, str]]
    origin: str
    state: ShownState
    tests: tuple[TestPart, ...]
    trend: TrendRow
    trend_band: str
    inspection: InspectionRow | None
    findings: list[tuple[Any, Said]]
    photos: tuple[PhotoRow, ...]
    history: list[Entry]
    cautions: tuple[Caution, ...]
    engine_version: str
    made_on: date


def of_device(viewer: Viewer, key: str) -> Report:
    """The report, out of what the viewer may see. Raises BenchnightError `device.not_found`."""
    device = devices.one(viewer, key)
    state = service.state_of(viewer, key)
    design = designs.one(viewer, device.design)
    rows = tests.listing(viewer, device=key, limit=MOST_TESTS).results
    looks = inspections.listing(viewer, key, limit=1).results
    course = trend.of_device(viewer, key)
    several = max((len(points) for points in course.by_band.values()), default=0) > 1
    return Report(
        device=device,
        design=design,
        recipe=list(recipe_words.lines(design.recipe)),
        origin=words.ORIGINS[device.origin],
        state=shown_state(state, own=device.owner == viewer.name),
        tests=tuple(_part(row, tests.traces(viewer, row.key)) for row in _newest(rows)),
        trend=course,
        trend_band=trends.first_band(course, state) if several else "",
        inspection=looks[0] if looks else None,
        findings=[(each, words_of_upkeep.LOOKS[each.state]) for each in looks[0].findings] if looks else [],
        photos=photos.of_device(viewer, key)[:MOST_PHOTOS],
        history=history.of_device(viewer, device, state, rows, first=True),
        cautions=cautions.ALL,
        engine_version=ENGINE_VERSION,
        made_on=service.today(),
    )


def _newest(rows: Iterable[TestRow]) -> list[TestRow]:
    """The newest test of each kind, those that count before those that do not."""
    chosen: dict[str, TestRow] = {}
    for row in sorted(rows, key=lambda each: (not left_out(each), each.measured_on), reverse=True):
        chosen.setdefault(row.kind, row)
    return [chosen[kind] for kind in KINDS if kind in chosen]


def left_out(row: TestRow) -> str:
    """Why a test does not count; empty where it does."""
    flags = row.result["flags"]
    whole = [flag["message"] for flag in flags if flag["severity"] == "exclude" and flag["band"] is None]
    return row.excluded_reason or next(iter(whole), "")


def _part(row: TestRow, traces: dict[str, Any]) -> TestPart:
    lines = metrics.band_lines(row.result)
    overall, said = metrics.overall(lines)
    finding = row.result["summary"].get("finding")
    return TestPart(
        row=row,
        title=words.method(row.kind, row.method),
        overall=words_of_upkeep.OUTCOMES[finding] if finding else overall,
        overall_words=words.FINDINGS.get(finding, said),
        limit=metrics.limit_words(row.result),
        columns=metrics.columns(row.result),
        lines=lines,
        summary=list(metrics.summary_lines(row.result)),
        made=list(_made(row)),
        flags=_flags(row),
        panels=tuple(panel.name for panel in test_chart.views(row.kind, traces)),
        traces=traces,
    )


def _made(row: TestRow) -> Iterable[tuple[str, str]]:
    """How it was measured: day, method, jig, calibration, files, engine."""
    said = {True: "yes, at the ends of the leads", False: "no", None: "nobody said"}
    jig = {"jig_through": "through", "jig_open": "open", "jig_short": "short"}
    used = [jig[sweep.role] for sweep in row.sweeps if sweep.role in jig]
    span = row.result.get("span") or {}
    yield "Measured on", f"{row.measured_on.day} {row.measured_on:%B %Y}"
    yield "Method", words.method(row.kind, row.method)
    yield "Ratio", row.result["ratio"]
    if span.get("start_hz") and span.get("stop_hz"):
        swept = f"{span['start_hz'] / 1e6:.4g} to {span['stop_hz'] / 1e6:.4g} MHz"
        yield "Swept", f"{swept}, {span['points']} points"
    yield "Jig", f"measured: {', '.join(used)}" if used else "not measured"
    if row.result["summary"].get("judged_figures"):
        yield "Judged figures", str(row.result["summary"]["judged_figures"])
    yield "Calibrated", said[row.settings.get("calibrated")]
    for name, title in (("load_ohm", "Load resistor"), ("series_ohm", "Series resistor")):
        if row.settings.get(name) is not None:
            yield title, f"{row.settings[name]:g} ohm, as measured"
    yield "Computed by", f"engine {row.result['engine_version']}"


def _flags(row: TestRow) -> list[str]:
    """What to know about it, each sentence once with its bands."""
    bands: dict[str, list[str]] = {}
    for flag in row.result["flags"]:
        named = bands.setdefault(bench.in_words(flag["message"]), [])
        if flag["band"]:
            named.append(flag["band"])
    return [f"{', '.join(named)}: {message}" if named else message for message, named in bands.items()]
