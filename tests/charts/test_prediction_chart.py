"""The chart of a predicted winding: valid Vega-Lite, with interval, benchmark and what was released."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import altair
import jsonschema
import pytest

from measurements.charts import prediction_chart
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.predictions.rows import PredictionRow, PredictionSources
from measurements.selectors.reference.reference import BandRow

FREQ_HZ = (1e6, 7.1e6, 30e6)
SOURCED = ("", "", date(2026, 1, 1), "")
BANDS = (BandRow(2, "40m", 7.0e6, 7.3e6, date(2000, 1, 1), None, *SOURCED),)


def statistic(middle: float) -> dict[str, list[float | None]]:
    return {name: [middle + off] * 3 for name, off in (("p10", -2.0), ("median", 0.0), ("p90", 2.0))}


def row() -> PredictionRow:
    return PredictionRow(
        title="12 turns",
        recipe={},
        freq_hz=FREQ_HZ,
        rejection_db=statistic(30.0),
        resistance_ohm=statistic(2000.0),
        reactance_ohm=statistic(-100.0),
        impedance_ohm=statistic(2003.0),
        self_resonance_hz={"p10": 5e6, "median": 6e6, "p90": 7e6},
        stray_capacitance_f=4e-12,
        chance=0.9,
        bands=(),
        benchmark_db=20.0,
        covered_from_hz=1e5,
        covered_to_hz=1e8,
        note="",
        why="",
        fits=True,
        built=True,
        near=(),
        rests_on=PredictionSources("31", True, 3, 12, 1, 1e5, 1e8),
        cautions=(),
    )


def released() -> CurveSet:
    hidden: Any = {"median": None, "p10": None, "p90": None}
    seen = {"median": [28.0, 29.5, None], "p10": None, "p90": None}
    return CurveSet(FREQ_HZ, seen, hidden, hidden, hidden, "5-9")


@pytest.mark.parametrize("view", prediction_chart.VIEWS)
@pytest.mark.parametrize("tone", ["light", "dark"])
def test_it_is_valid_vega_lite(view, tone):
    path = Path(altair.__file__).parent / "vegalite/v6/schema/vega-lite-schema.json"
    schema = jsonschema.Draft7Validator(json.loads(path.read_text(encoding="utf-8")))
    spec = prediction_chart.build_prediction_chart(row(), BANDS, released=released(), view=view, tone=tone)
    assert list(schema.iter_errors(json.loads(json.dumps(spec, allow_nan=False)))) == []


def test_released_evidence_is_drawn_beside_the_interval():
    spec = prediction_chart.build_prediction_chart(row(), BANDS, released=released())
    rows = next(each for each in spec["datasets"].values() if "p10" in each[0])
    assert rows[1] == {"f": 7.1, "p10": 28.0, "median": 30.0, "p90": 32.0, "released": 29.5}
    assert rows[2]["released"] is None
    assert "median of 5-9 released devices" in json.dumps(spec)
    assert "benchmark 20 dB" in json.dumps(spec) and "eight in ten new devices" in spec["description"]


def test_without_evidence_nothing_is_said_of_it():
    assert "released" not in json.dumps(prediction_chart.build_prediction_chart(row(), BANDS)["datasets"])
