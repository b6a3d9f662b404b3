"""The chart of a night's jig: valid, and its bars are what the jig's figures say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import altair
import jsonschema
import pytest

from measurements.charts import jig_chart, rendering


def figures(*floors_db: float | None) -> dict[str, Any]:
    """As `rf.instruments.jig_check.assess_jig` has them, on made-up bands; believed up to 10 dB under
    the floor.
    """
    rows = [
        {"band": f"{number}m", "floor_db": floor, "good_up_to_db": None if floor is None else floor - 10.0}
        for number, floor in enumerate(floors_db, start=10)
    ]
    return {"benchmark_db": 20.0, "bands": rows}


@pytest.mark.parametrize("tone", ["light", "dark"])
@pytest.mark.parametrize("width_px", [480, None])
def test_it_is_valid_by_the_schema_that_altair_carries(tone, width_px):
    path = Path(altair.__file__).parent / "vegalite/v6/schema/vega-lite-schema.json"
    validator = jsonschema.Draft7Validator(json.loads(path.read_text(encoding="utf-8")))
    spec = jig_chart.build_jig_chart(figures(52.0, 41.5), tone=tone, width_px=width_px)
    assert list(validator.iter_errors(json.loads(json.dumps(spec, allow_nan=False)))) == []


def test_bars_end_at_what_can_be_believed_and_at_the_floor():
    spec = jig_chart.build_jig_chart(figures(52.04, None, 41.5))
    assert spec is not None
    hidden, shown = spec["layer"][:2]
    rows = spec["datasets"][shown["data"]["name"]]
    assert rows == [
        {"band": "10m", "floor": 52.0, "good": 42.0},
        {"band": "12m", "floor": 41.5, "good": 31.5},
    ]
    assert (shown["encoding"]["x"]["field"], hidden["encoding"]["x2"]["field"]) == ("good", "floor")
    assert "good up to 31.5 dB on the worst" in spec["description"]
    assert "benchmark 20 dB" in rendering.render_svg(spec)


def test_a_jig_that_shows_nothing_has_no_bar_below_zero():
    spec = jig_chart.build_jig_chart(figures(6.0))
    assert spec is not None
    assert spec["datasets"][spec["layer"][0]["data"]["name"]][0]["good"] == 0.0


def test_without_a_floor_there_is_nothing_to_draw():
    assert jig_chart.build_jig_chart(figures(None, None)) is None
    assert jig_chart.build_jig_chart({}) is None
