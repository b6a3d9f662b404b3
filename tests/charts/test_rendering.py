"""Pictures made on this machine."""

from __future__ import annotations

import re
import time
import xml.etree.ElementTree as ElementTree
from concurrent.futures import ThreadPoolExecutor

import pytest

from measurements.charts import design_chart, rendering
from tests.charts import samples


def chart(**options):
    return design_chart.build_design_chart(
        samples.design(), samples.curve_set(**options), samples.BANDS, 20.0, view="rejection"
    )


def test_svg_is_well_formed_and_names_bands_and_benchmark():
    svg = rendering.render_svg(chart())
    root = ElementTree.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    words = "".join(root.itertext())
    assert "40m" in words and "benchmark 20 dB" in words and "Frequency, MHz" in words


def test_svg_needs_no_style_no_script_and_no_other_address():
    svg = rendering.render_svg(chart())
    assert "style=" not in svg and "<style" not in svg and "<script" not in svg
    assert "http" not in svg.replace("http://www.w3.org/", "")


def test_a_picture_of_few_has_the_median_and_no_range():
    many, few = rendering.render_svg(chart()), rendering.render_svg(chart(public=True))
    # the area and its read-outs; no curve of a device is in either
    assert "one in ten below" in many and "one in ten below" not in few
    assert 0 < many.count("<path") - few.count("<path") <= 2


def test_png_is_a_png():
    assert rendering.render_png(chart())[:8] == b"\x89PNG\r\n\x1a\n"


def test_the_same_specification_gives_the_same_picture():
    assert rendering.render_svg(chart(), kept=False) == rendering.render_svg(chart(), kept=False)


def test_two_pictures_on_one_page_share_no_name():
    """And each name that a picture uses is one that it has."""
    first, second = (rendering.render_svg(chart(public=each), kept=False) for each in (False, True))
    names = [set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (first, second)]
    assert names[0] and names[1] and names[0].isdisjoint(names[1])
    for svg, own in zip((first, second), names, strict=True):
        assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= own


@pytest.mark.parametrize("form", ["svg", "png"])
def test_a_published_picture_is_drawn_once(monkeypatch, form):
    drawn = []
    for name in ("render_png", "_render_svg_text"):
        real = getattr(rendering, name)
        monkeypatch.setattr(rendering, name, lambda given, real=real: drawn.append(1) or real(given))
    first = rendering.render_kept(chart(), form)
    before = time.perf_counter()
    assert rendering.render_kept(chart(), form) == first and len(drawn) == 1
    assert time.perf_counter() - before < 0.3
    assert rendering.render_kept(chart(public=True), form) != first and len(drawn) == 2


def test_readers_who_come_together_have_it_drawn_once(monkeypatch):
    drawn = []

    def draw(_text: str) -> str:
        drawn.append(1)
        time.sleep(0.05)
        return "<svg/>"

    monkeypatch.setattr(rendering, "_render_svg_text", draw)
    with ThreadPoolExecutor(4) as readers:
        found = set(readers.map(lambda _: rendering.render_kept({"mark": "point"}, "svg"), range(4)))
    assert found == {b"<svg/>"} and len(drawn) == 1


def test_the_engine_can_be_started_before_anybody_asks():
    rendering.start_engine()
