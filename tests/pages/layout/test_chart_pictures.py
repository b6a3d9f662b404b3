"""The curve is there at first paint: the server's picture, then the interactive chart for who wants it."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from django.contrib.staticfiles import finders

from measurements.pages.layout import chart_bundle
from measurements.services.releases import releases
from tests import factories
from tests.browsing import PHONE, wake_chart
from tests.pages.markup import read

MOST_SCRIPT_BYTES = 100_000


@pytest.fixture
def design(reference_data: None) -> str:
    key = factories.evidence(6)
    releases.make_release()
    return key


def test_pages_with_charts_name_no_engine_and_little_script(group, owner):
    for address in (f"/designs/{group.design}/", f"/tests/{group.test}/"):
        found = read(owner.get(address).content)
        places = [each for each in found.all("div") if "data-spec-url" in each.attrs]
        assert places and all(chart_bundle.FILE_NAME in each.attrs["data-engine"] for each in places)
        named = [each.attrs["src"].removeprefix("/static/") for each in found.all("script")]
        assert chart_bundle.FILE_NAME not in named
        assert sum(len(gzip.compress(_read_static(name))) for name in named) < MOST_SCRIPT_BYTES
        pictures = [each for each in found.all("img") if ".svg?view=" in each.attrs["src"]]
        assert len(pictures) == len(places)
        for picture in pictures:
            assert picture.attrs["alt"] and picture.attrs["width"] and picture.attrs["height"]
            assert owner.get(picture.attrs["src"])["Content-Type"].startswith("image/svg+xml")
        for source in found.all("source"):
            assert owner.get(source.attrs["srcset"]).status_code == 200
    assert owner.get(f"/designs/{group.design}/chart.svg?size=huge").status_code == 400


def _read_static(name: str) -> bytes:
    return Path(finders.find(name)).read_bytes()


def test_the_picture_of_a_release_is_drawn_once(group, nobody, monkeypatch):
    from measurements.charts import rendering

    drawn = []
    draw = rendering._render_svg_text
    monkeypatch.setattr(rendering, "_render_svg_text", lambda text: drawn.append(text) or draw(text))
    address = f"/designs/{group.design}/chart.svg?view=rejection"
    first = nobody.get(address).content
    from django.core.cache import cache

    cache.clear()  # another process has not answered it yet; the picture is on the disk
    assert nobody.get(address).content == first
    assert len(drawn) == 1


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("how", ["pointer", "keyboard", "touch"])
def test_the_interactive_chart_comes_by(how, browser, live_server, design: str):
    context = browser.new_context(base_url=live_server.url, viewport=PHONE, has_touch=True)
    page = context.new_page()
    page.add_init_script(Path(AXE_FILE_PATH).read_text(encoding="utf-8"))
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"/designs/{design}/")
    page.wait_for_load_state("networkidle")
    assert not [url for url in asked if re.search(r"chart-engine|chart\.json", url)]
    assert [url for url in asked if "chart.svg" in url]
    place = page.locator(".chart-place").first
    assert place.get_attribute("role") == "img"
    assert "Median rejection" in place.get_attribute("aria-label")
    before = place.bounding_box()["height"]
    if how == "pointer":
        wake_chart(page)
    elif how == "touch":
        place.tap()
    else:
        place.focus()
    place.locator("svg").first.wait_for()
    page.wait_for_function("() => document.querySelector('.chart-place').classList.contains('is-live')")
    assert [url for url in asked if "chart-engine" in url]
    assert place.locator("img").count() == 0
    assert place.get_attribute("role") == "img" and place.get_attribute("tabindex") == "0"
    assert abs(place.bounding_box()["height"] - before) < 0.25 * before  # what is below hardly moves
    broken = page.evaluate(
        "async () => (await axe.run({include: [['main']], exclude: [['.chart-place svg']]})).violations"
        ".map((each) => each.id)"
    )
    assert broken == []
    context.close()


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_without_script_the_picture_has_its_words(browser, live_server, design: str):
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"/designs/{design}/")
    picture = page.get_by_alt_text("Median rejection").first
    picture.wait_for()
    assert picture.bounding_box()["width"] > 200
    context.close()
