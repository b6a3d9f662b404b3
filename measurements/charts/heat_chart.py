"""The heat map of families as a picture: a row per core and turns, a column per band, figures in the cells.

The page draws a table; this is the same for a slide or a print. It says in figures what its shade says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from measurements.charts import panel_layers
from measurements.charts.colours import PALETTES, Tone, build_config
from measurements.charts.panel_layers import VEGALITE_SCHEMA, Spec
from measurements.selectors.designs.rows import FamilyRow
from measurements.verdict.judged_kinds import EVIDENCE_METRICS

CELL_WIDTH_PX, CELL_HEIGHT_PX = 64, 40
# metric -> its name in words, and the figures of the lightest and the darkest shade: darker is better
SHADES = {
    "rejection_db": ("rejection in dB", "benchmark", 0.0, 40.0, 1),
    "loss_db": ("loss in dB", "limit", 2.0, 0.0, 2),
    "swr": ("SWR", "limit", 3.0, 1.0, 2),
}
VERDICT_MARKS = {  # beside the figure, so that a grey print says it too
    "typically_meets": "✓",
    "mixed": "±",
    "typically_falls_short": "✗",
}


def build_heat_chart(
    families: Sequence[FamilyRow], limit: float, names: Sequence[str], *, tone: Tone = "light"
) -> Spec | None:
    """Return a Vega-Lite specification; None where no family shows a figure.

    limit: in the unit of the metric that the families are about. names: what each family is called, in their
    order. The shade is the median.
    """
    values = [
        _build_cell(name, evidence)
        for name, family in zip(names, families, strict=True)
        for evidence in family.evidence
        if evidence[_get_metric(evidence)]["median"] is not None
    ]
    if not values:
        return None
    metric = _get_metric(families[0].evidence[0])
    said, name_of_limit, *_ = SHADES[metric]
    shown = {value["band"] for value in values}
    bands = [evidence["band"] for evidence in families[0].evidence if evidence["band"] in shown]
    rows = [name for name in names if any(value["family"] == name for value in values)]
    drawn: Spec = {
        "$schema": VEGALITE_SCHEMA,
        "description": f"Median {said} by core and turns and band, {name_of_limit} {limit:g}"
        f"{'' if metric == 'swr' else ' dB'}.",
        "data": {"values": values},
        "width": CELL_WIDTH_PX * len(bands),
        "height": CELL_HEIGHT_PX * len(rows),
        "padding": 5,
        "encoding": {
            "x": {
                "field": "band",
                "type": "ordinal",
                "sort": bands,
                "title": None,
                "axis": {"orient": "top", "labelAngle": 0, "domain": False, "ticks": False},
            },
            "y": {
                "field": "family",
                "type": "ordinal",
                "sort": rows,
                "title": None,
                "axis": {"labelLimit": 400, "domain": False, "ticks": False},
            },
        },
        "layer": [
            _build_shade_layer(metric, tone),
            _build_text_layer("figure", -7, 13, tone),
            _build_text_layer("count", 9, 11, tone),
        ],
        "config": build_config(tone),
    }
    return cast(Spec, panel_layers.round_numbers(drawn))


def _get_metric(evidence: dict[str, Any]) -> str:
    return EVIDENCE_METRICS[evidence["kind"]].name


def _build_cell(name: str, evidence: dict[str, Any]) -> dict[str, Any]:
    metric = _get_metric(evidence)
    median, digits = evidence[metric]["median"], SHADES[metric][-1]
    return {
        "family": name,
        "band": evidence["band"],
        "median": median,
        "figure": f"{VERDICT_MARKS.get(evidence['verdict'], '')} {median:.{digits}f}".strip(),
        "count": f"{evidence['devices']} dev.",
    }


def _build_shade_layer(metric: str, tone: Tone) -> Spec:
    palette = PALETTES[tone]
    _, _, lightest, darkest, _ = SHADES[metric]
    return {
        "mark": {"type": "rect", "color": palette.series[0], "stroke": palette.ground, "strokeWidth": 2},
        "encoding": {
            "opacity": {
                "field": "median",
                "type": "quantitative",
                "scale": {"domain": [lightest, darkest], "range": [0.03, 0.36], "clamp": True},
                "legend": None,
            },
        },
    }


def _build_text_layer(field: str, down_px: int, size_px: int, tone: Tone) -> Spec:
    return {
        "mark": {"type": "text", "dy": down_px, "fontSize": size_px, "color": PALETTES[tone].ink},
        "encoding": {"text": {"field": field, "type": "nominal"}},
    }
