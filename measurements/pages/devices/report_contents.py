"""What a device's report says, for the page and for the PDF alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.charts import test_chart
from measurements.disclosure.viewers import Viewer
from measurements.pages.devices import presenters as devices_presenters
from measurements.pages.devices.presenters import HistoryEntry, StatePresentation, present_state
from measurements.pages.layout import cautions, procedures, upkeep_wording, wording
from measurements.pages.layout.cautions import Caution
from measurements.pages.layout.wording import Badge
from measurements.pages.tests import presenters as tests_presenters
from measurements.pages.tests.presenters import BandLine, Column
from measurements.pages.upkeep import trend_charts
from measurements.rf.analysis import ENGINE_VERSION
from measurements.selectors.devices import devices
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.tests import tests
from measurements.selectors.tests.tests import TestRow
from measurements.selectors.upkeep import inspections, photos, service_states
from measurements.selectors.upkeep.rows import InspectionRow, PhotoRow
from measurements.selectors.upkeep.service_states import TrendRow

KINDS = ("common_mode", "load_match", "insertion_loss", "balance", "in_situ", "dc")
MAX_TESTS = 200
MAX_PHOTOS = 4


@dataclass(frozen=True)
class TestPart:
    """The newest test of a kind: verdict, figures, how it was made, what to know about it."""

    __test__ = False

    row: TestRow
    title: str
    overall: Badge
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
    recipe: list[tuple[str, str]]
    origin: str
    state: StatePresentation
    tests: tuple[TestPart, ...]
    trend: TrendRow
    trend_band: str
    inspection: InspectionRow | None
    findings: list[tuple[Any, Badge]]
    photos: tuple[PhotoRow, ...]
    history: list[HistoryEntry]
    cautions: tuple[Caution, ...]
    engine_version: str
    made_on: date


def build_report(viewer: Viewer, key: str) -> Report:
    """Return the report, out of what the viewer may see. Raises BenchnightError `device.not_found`."""
    device = devices.get_device(viewer, key)
    state = service_states.get_service_state(viewer, key)
    rows = tests.list_tests(viewer, device=key, limit=MAX_TESTS).results
    looks = inspections.list_inspections(viewer, key, limit=1).results
    course = service_states.get_device_trend(viewer, key)
    several = max((len(points) for points in course.by_band.values()), default=0) > 1
    return Report(
        device=device,
        recipe=list(devices_presenters.describe_build(viewer, device)),
        origin=wording.ORIGINS[device.origin],
        state=present_state(state, own=devices_presenters.is_own(viewer, device)),
        tests=tuple(
            _build_test_part(row, tests.get_traces(viewer, row.key)) for row in _select_newest_tests(rows)
        ),
        trend=course,
        trend_band=trend_charts.choose_trend_band(course, state) if several else "",
        inspection=looks[0] if looks else None,
        findings=[(each, upkeep_wording.INSPECTION_STATES[each.state]) for each in looks[0].findings]
        if looks
        else [],
        photos=photos.list_photos(viewer, key)[:MAX_PHOTOS],
        history=devices_presenters.build_history(viewer, device, state, rows, first=True),
        cautions=cautions.list_cautions("report"),
        engine_version=ENGINE_VERSION,
        made_on=service_states.get_today(),
    )


def _select_newest_tests(rows: Iterable[TestRow]) -> list[TestRow]:
    """Return the newest test of each kind, those that count before those that do not."""
    chosen: dict[str, TestRow] = {}
    for row in sorted(
        rows, key=lambda each: (not get_exclusion_reason(each), each.measured_on), reverse=True
    ):
        chosen.setdefault(row.kind, row)
    return [chosen[kind] for kind in KINDS if kind in chosen]


def get_exclusion_reason(row: TestRow) -> str:
    """Explain why a test does not count; empty where it does."""
    flags = row.result["flags"]
    whole = [flag["message"] for flag in flags if flag["severity"] == "exclude" and flag["band"] is None]
    return row.excluded_reason or next(iter(whole), "")


def _build_test_part(row: TestRow, traces: dict[str, Any]) -> TestPart:
    lines = tests_presenters.present_bands(row.result)
    overall, said = tests_presenters.summarise_result(row.result)
    return TestPart(
        row=row,
        title=wording.format_method(row.kind, row.method),
        overall=overall,
        overall_words=tests_presenters.say_first_line(row.result, said),
        limit=tests_presenters.describe_result_limit(row.result),
        columns=tests_presenters.list_columns(row.result),
        lines=lines,
        summary=list(tests_presenters.list_summary_lines(row.result)),
        made=list(_list_conditions(row)),
        flags=_list_flag_messages(row),
        panels=tuple(panel.name for panel in test_chart.list_panels(row.kind, traces)),
        traces=traces,
    )


def _list_conditions(row: TestRow) -> Iterable[tuple[str, str]]:
    """Yield how it was measured: day, method, jig, calibration, files, engine."""
    said = {True: "yes, at the ends of the leads", False: "no", None: "nobody said"}
    jig = {"jig_through": "through", "jig_open": "open", "jig_short": "short"}
    used = [jig[sweep.role] for sweep in row.sweeps if sweep.role in jig]
    span = row.result.get("span") or {}
    yield "Measured on", f"{row.measured_on.day} {row.measured_on:%B %Y}"
    yield "Method", wording.format_method(row.kind, row.method)
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


def _list_flag_messages(row: TestRow) -> list[str]:
    """List the notes on a test, each sentence once with its bands."""
    bands: dict[str, list[str]] = {}
    for flag in row.result["flags"]:
        named = bands.setdefault(procedures.translate_roles(flag["message"]), [])
        if flag["band"]:
            named.append(flag["band"])
    return [f"{', '.join(named)}: {message}" if named else message for message, named in bands.items()]
