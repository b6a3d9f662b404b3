"""Every specification is valid Vega-Lite, small, and says what the rows say."""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import altair
import jsonschema
import numpy as np
import pytest

from measurements.charts import design_chart, device_chart, line_layers, panel_layers, test_chart, trend_chart
from measurements.charts.colours import DASHES, PALETTES
from measurements.charts.panel_layers import FrequencyAxis
from measurements.charts.test_chart import KIND_PANELS
from measurements.selectors.tests.comparison import CurveComparison
from measurements.selectors.upkeep.service_states import TrendPoint
from tests.charts import samples

LIMIT_BYTES = 150_000


@dataclass
class FinishedTest:
    kind: str
    result: dict[str, Any] = field(default_factory=dict)


@pytest.fixture(scope="module")
def valid():
    """Checks against the Vega-Lite schema that Altair carries."""
    path = Path(altair.__file__).parent / "vegalite/v6/schema/vega-lite-schema.json"
    schema = json.loads(path.read_text(encoding="utf-8"))
    validator = jsonschema.Draft7Validator(schema)

    def check(spec: dict[str, Any]) -> None:
        assert list(validator.iter_errors(json.loads(json.dumps(spec, allow_nan=False)))) == []

    return check


def traces_of(kind: str, points: int = 97) -> dict[str, np.ndarray]:
    freq_hz = np.geomspace(1e6, 54e6, points)
    columns = {line.column for each in KIND_PANELS[kind] for line in each.lines}
    return {"freq_hz": freq_hz, **{name: 1 + np.log10(freq_hz) for name in columns}}


def layers(spec: dict[str, Any]) -> list[dict[str, Any]]:
    return [layer for each in spec.get("vconcat", [spec]) for layer in each["layer"]]


def rows_of(spec: dict[str, Any], layer: dict[str, Any]) -> list[dict[str, Any]]:
    return spec["datasets"][layer["data"]["name"]]


def test_altair_speaks_the_version_that_is_named():
    assert altair.SCHEMA_VERSION.lstrip("v").startswith(panel_layers.VEGALITE_VERSION)
    assert f"/v{altair.SCHEMA_VERSION.lstrip('v').split('.')[0]}.json" in panel_layers.VEGALITE_SCHEMA


@pytest.mark.parametrize("view", design_chart.VIEWS)
@pytest.mark.parametrize("public", [True, False])
@pytest.mark.parametrize("tone", ["light", "dark"])
def test_a_design_in_every_view_and_circle(valid, view, public, tone):
    width_px = 720 if view == "both" else None
    spec = design_chart.build_design_chart(
        samples.design(),
        samples.curve_set(public=public),
        samples.BANDS,
        20.0,
        view=view,
        tone=tone,
        width_px=width_px,
    )
    valid(spec)


@pytest.mark.parametrize("kind", [kind for kind, panels in KIND_PANELS.items() if panels])
def test_every_kind_of_test_in_every_panel(valid, kind):
    traces = traces_of(kind)
    valid(test_chart.build_test_chart(FinishedTest(kind), traces, samples.BANDS))
    for shown in KIND_PANELS[kind]:
        valid(
            test_chart.build_test_chart(
                FinishedTest(kind), traces, samples.BANDS, view=shown.name, width_px=None
            )
        )


@pytest.mark.parametrize("view", device_chart.VIEWS)
@pytest.mark.parametrize("tone", ["light", "dark"])
def test_a_device_over_the_range_of_its_design(valid, view, tone):
    own = samples.impedance_ohm(peak_ohm=2000.0)
    own[80:] = np.nan  # its sweep ends earlier
    both = CurveComparison(own, samples.curve_set())
    spec = device_chart.build_device_chart(both, samples.BANDS, view=view, tone=tone)
    valid(spec)
    (line,) = [each for each in layers(spec) if "strokeDash" in each["encoding"]]
    rows = rows_of(spec, line)
    expected = samples.rejection_db(own) if view == "rejection" else np.abs(own)
    assert [row["own"] for row in rows[:80]] == pytest.approx(expected[:80], abs=0.56)
    assert [row["own"] for row in rows[80:]] == [None] * 17
    assert [row["p90"] for row in rows] == pytest.approx(
        getattr(both.design, f"{view}_{'db' if view == 'rejection' else 'ohm'}")["p90"], abs=0.51
    )
    assert "median of 8 devices" in json.dumps(spec) and "this device" in json.dumps(spec)


def test_two_hundred_devices_still_fit_the_size_limit():
    spec = design_chart.build_design_chart(samples.design(), samples.curve_set(200), samples.BANDS, 20.0)
    assert len(json.dumps(spec)) < LIMIT_BYTES


@pytest.mark.parametrize("kind", [kind for kind, panels in KIND_PANELS.items() if panels])
def test_a_sweep_of_fifty_thousand_points_still_fits(kind):
    spec = test_chart.build_test_chart(FinishedTest(kind), traces_of(kind, 50_000), samples.BANDS)
    assert len(json.dumps(spec)) < LIMIT_BYTES


def test_the_public_gets_no_range_and_no_single_curve():
    spec = design_chart.build_design_chart(
        samples.design(), samples.curve_set(public=True), samples.BANDS, 20.0
    )
    text = json.dumps(spec)
    assert "p10" not in text and "p90" not in text and '"s0"' not in text
    assert "5-9 devices" in spec["description"]


def test_median_benchmark_and_bands_are_those_of_the_rows():
    curves = samples.curve_set()
    spec = design_chart.build_design_chart(samples.design(), curves, samples.BANDS, 25.0, view="rejection")
    drawn = layers(spec)
    (median,) = [
        each
        for each in drawn
        if each["encoding"].get("y", {}).get("field") == "median" and each["mark"]["type"] == "line"
    ]
    rows = rows_of(spec, median)
    assert [row["median"] for row in rows] == pytest.approx(curves.rejection_db["median"], abs=0.005)
    assert [row["f"] for row in rows] == pytest.approx([hz / 1e6 for hz in curves.freq_hz], rel=1e-4)
    (limit,) = [
        rows_of(spec, each) for each in drawn if each["mark"]["type"] == "rule" and "params" not in each
    ]
    assert limit[0]["limit"] == 25.0
    names = [row["name"] for row in rows_of(spec, drawn[0])]
    assert names == [band.band for band in samples.BANDS]


def test_the_limit_of_a_test_comes_from_its_result():
    result = {"summary": {"swr_limit": 1.5}}
    spec = test_chart.build_test_chart(
        FinishedTest("load_match", result), traces_of("load_match"), (), view="swr"
    )
    assert any(row.get("label") == "limit 1.5" for each in layers(spec) for row in rows_of(spec, each))
    without = test_chart.build_test_chart(FinishedTest("load_match"), traces_of("load_match"), (), view="swr")
    assert not any("label" in row for each in layers(without) for row in rows_of(without, each))


def test_gaps_stay_gaps():
    traces = traces_of("common_mode")
    traces["rejection_db"][10] = np.nan
    traces["rejection_db"][11] = np.inf
    spec = test_chart.build_test_chart(FinishedTest("common_mode"), traces, samples.BANDS, view="rejection")
    (line,) = [each for each in layers(spec) if "strokeDash" in each["encoding"]]
    assert [row["rejection_db"] for row in rows_of(spec, line)][9:13].count(None) == 2
    json.dumps(spec, allow_nan=False)


def test_nothing_to_draw_is_none():
    assert test_chart.build_test_chart(FinishedTest("common_mode"), {}, samples.BANDS) is None
    assert (
        test_chart.build_test_chart(
            FinishedTest("common_mode"), traces_of("load_match"), samples.BANDS, view="rejection"
        )
        is None
    )
    assert (
        test_chart.build_test_chart(
            FinishedTest("load_match"), traces_of("load_match"), samples.BANDS, view="cmrr"
        )
        is None
    )


def test_bands_outside_the_sweep_are_not_drawn():
    traces = {"freq_hz": [7e6, 7.1e6, 7.2e6], "swr": [1.1, 1.2, 1.3]}
    spec = test_chart.build_test_chart(FinishedTest("load_match"), traces, samples.BANDS, view="swr")
    assert [row["name"] for row in rows_of(spec, layers(spec)[0])] == ["40m"]


def test_lines_differ_in_dash_as_well_as_in_colour():
    for palette in PALETTES.values():
        assert len(set(palette.series)) == len(palette.series) == len({tuple(dash) for dash in DASHES})


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, WCAG 2.2 (relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("tone", PALETTES)
def test_words_and_lines_stand_out_from_the_ground(tone):
    # WCAG 2.2: 4.5 for text (1.4.3), 3 for graphics (1.4.11)
    palette = PALETTES[tone]
    for words in (palette.ink, palette.faint, palette.limit):
        assert contrast(words, palette.ground) >= 4.5
    for line in palette.series:
        assert contrast(line, palette.ground) >= 3


class TestTrend:
    """A device over time: valid, with the values that were given, in both tones."""

    def points(self, *values: float, counts: bool = True) -> list[TrendPoint]:
        return [
            TrendPoint(f"t{index}", date(2024 + index, 3, 1), value, counts, False)
            for index, value in enumerate(values)
        ]

    def test_valid_and_with_every_point(self, valid):
        for tone in PALETTES:
            spec = trend_chart.build_trend_chart(
                "40m",
                [*self.points(31.2, 30.1), *self.points(12.0, counts=False)],
                benchmark_db=20.0,
                baseline_db=31.2,
                real_from_db=1.1,
                tone=tone,
            )
            valid(spec)
            lines = [layer["data"]["values"] for layer in spec["layer"]]
            assert [row["db"] for row in lines[-1]] == [31.2, 30.1, 12.0]
            assert [row["db"] for row in lines[-2]] == [31.2, 30.1]  # what does not count is not joined
            strip = lines[0][0]
            assert (strip["low"], strip["high"]) == (pytest.approx(30.1), pytest.approx(32.3))

    def test_without_points_there_is_nothing_to_draw(self):
        assert trend_chart.build_trend_chart("40m", [], benchmark_db=20.0) is None

    def test_without_a_baseline_there_is_no_strip(self, valid):
        spec = trend_chart.build_trend_chart("40m", self.points(31.2), benchmark_db=20.0, real_from_db=1.0)
        valid(spec)
        assert not [layer for layer in spec["layer"] if layer["mark"]["type"] == "rect"]


@pytest.mark.parametrize("scale", ["log", "linear"])
def test_names_of_bands_stand_apart_on_a_phone(scale):
    x = FrequencyAxis(scale=scale)
    names = [
        each
        for each in panel_layers.build_band_layers(samples.BANDS, x, "light")
        if each["mark"]["type"] == "text"
    ]
    said = sorted(row["name"] for each in names for row in each["data"]["values"])
    assert said == sorted(band.band for band in samples.BANDS)
    heights = [each["encoding"]["y"]["value"] for each in names]
    assert 1 < len(set(heights)) == len(heights) < 4
    phone_px, letter_px = 265, 11  # the panel of a chart in a page of 390 px, and the height of its names
    for each in names:
        at_px = [x.place(row["f"]) * phone_px for row in each["data"]["values"]]
        assert at_px[0] > letter_px  # not on the axis
        assert all(b - a > letter_px for a, b in itertools.pairwise(at_px))


def test_a_linear_axis_writes_no_powers_of_ten():
    # d3-format: ~g keeps the digits of the step, so that 10 in steps of 10 is 1e+1; ~f does not
    assert FrequencyAxis(scale="linear").encoding()["axis"]["format"] == "~f"
    assert FrequencyAxis(1.8, 30.0, "linear").at(0.0) == 1.8
    assert FrequencyAxis(2.0, 32.0).at(0.5) == pytest.approx(8.0)  # by hand: sqrt(2 x 32)
    assert FrequencyAxis(2.0, 32.0).place(8.0) == pytest.approx(0.5)


def test_a_legend_that_is_too_wide_for_a_phone_takes_a_column():
    assert "columns" not in line_layers.build_legend(["|Z|", "R", "X"])
    assert line_layers.build_legend(["device", "design median", "one in ten", "nine in ten"])["columns"] == 2
    assert line_layers.build_legend(["predicted", "median of 9 released devices"])["columns"] == 1


def test_words_of_the_limit_stand_on_a_rim_of_the_ground():
    y = {"type": "quantitative"}
    _, rim, words = panel_layers.build_limit_layers(20.0, "benchmark 20 dB", y, FrequencyAxis(), "dark")
    assert rim["mark"]["stroke"] == PALETTES["dark"].ground and rim["encoding"] == words["encoding"]
    assert words["mark"]["color"] == PALETTES["dark"].limit


@pytest.mark.parametrize("kind", [kind for kind, panels in KIND_PANELS.items() if panels])
def test_what_the_pointer_reads_out_has_the_unit_of_its_axis(kind):
    spec = test_chart.build_test_chart(FinishedTest(kind), traces_of(kind), samples.BANDS)
    for shown, view in zip(KIND_PANELS[kind], spec.get("vconcat", [spec]), strict=True):
        told = [each["title"] for layer in view["layer"] for each in layer["encoding"].get("tooltip", ())]
        assert told[0] == "MHz" and len(told) == 1 + len(shown.lines)
        formats = {each["format"] for layer in view["layer"] for each in layer["encoding"].get("tooltip", ())}
        assert formats == {",.4~r"}  # d3-format: r rounds to digits and writes no power of ten
        unit = panel_layers.parse_axis_unit(shown.axis)
        assert unit in ("dB", "ohm", "degrees") or shown.axis == "SWR"
        assert all(title.endswith(f", {unit}") if unit else ", " not in title for title in told[1:])


def test_no_unit_is_read_out_twice():
    spec = design_chart.build_design_chart(samples.design(), samples.curve_set(), samples.BANDS, 20.0)
    told = [each["title"] for layer in layers(spec) for each in layer["encoding"].get("tooltip", ())]
    assert "median, dB" in told and "median |Z|, ohm" in told
    assert all(title == "MHz" or title.count(", ") == 1 for title in told)


def list_long_numbers(part: Any, path: str = "") -> list[str]:
    """Where a number has more than five significant digits, and which."""
    if isinstance(part, float):
        return [f"{path} {part!r}"] if float(f"{part:.5g}") != part else []
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    return [found for name, each in inner for found in list_long_numbers(each, f"{path}.{name}")]


class TestDigits:
    """Issue: four or five significant digits where more mean nothing."""

    @pytest.mark.parametrize("kind", [kind for kind, panels in KIND_PANELS.items() if panels])
    def test_of_every_kind_of_test(self, kind):
        result = {"summary": {"benchmark_db": 20.123456789, "swr_limit": 1.512345678, "loss_limit_db": 1 / 3}}
        test = FinishedTest(kind, result)
        spec = test_chart.build_test_chart(test, traces_of(kind), samples.BANDS)
        assert spec is not None and list_long_numbers(spec) == []

    def test_of_a_design_and_a_device(self):
        drawn = design_chart.build_design_chart(
            samples.design(), samples.curve_set(), samples.BANDS, 100 / 3, width_px=None
        )
        assert drawn is not None and list_long_numbers(drawn) == []

    def test_over_time(self):
        points = [TrendPoint("test", date(2026, 1, 1), 100 / 3, counts=True, at_least=False)]
        drawn = trend_chart.build_trend_chart(
            "40m", points, benchmark_db=200 / 7, baseline_db=100 / 7, real_from_db=10 / 7
        )
        assert drawn is not None and list_long_numbers(drawn) == []

    def test_no_other_way_makes_a_specification(self):
        """Each module that writes a schema into a specification rounds what it returns."""
        for path in sorted(Path(panel_layers.__file__).parent.glob("*.py")):
            text = path.read_text(encoding="utf-8")
            assert text.count('"$schema"') == text.count("round_numbers(drawn)"), path.name
