"""An SWR beyond 10 is "over 10": on the page, in the table behind the chart, and at the end of the axis."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from measurements.charts import test_chart
from measurements.pages.layout import figures, tables

SWR = [1.2, 63631.86, None]
TRACES = {"freq_hz": [7.0e6, 7.1e6, 7.2e6], "swr_through": SWR, "swr_bypassed": [1.1, 1.1, 1.1]}


@pytest.mark.parametrize(
    ("value", "shown"),
    [(1.7, "1.70"), (10.0, "10.00"), (10.01, "over 10"), (63631.86, "over 10"), (None, "–")],
)
def test_an_swr_in_words(value, shown):
    assert figures.format_swr(value) == shown


def test_the_table_behind_the_chart():
    cells = {cell for row in tables.build_traces_table("in_situ", TRACES).rows for cell in row}
    assert "over 10" in cells and "1.20" in cells
    assert not any("63" in cell for cell in cells)


def test_the_axis_ends_at_10():
    shown = SimpleNamespace(kind="in_situ", result={"summary": {}})
    drawn = repr(test_chart.build_test_chart(shown, TRACES, ()))
    assert "'domainMax': 10.0" in drawn and "63631" not in drawn and "over 10 drawn at 10" in drawn
