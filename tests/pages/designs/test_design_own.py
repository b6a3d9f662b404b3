"""A design's page: own devices for their owner alone, families, bands asked, the two scales."""

from __future__ import annotations

import json

import altair
import pytest
from django.test import Client

from measurements.charts import rendering
from measurements.selectors.evidence import design_curves
from measurements.services.releases import releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

TAG = "QX-TAG-77"


def spec_of(client: Client, address: str) -> dict:
    answer = client.get(address)
    assert answer.status_code == 200
    spec = json.loads(answer.content)
    altair.Chart.from_dict(spec)  # the published schema of the grammar decides
    return spec


def test_own_devices_are_drawn_with_a_legend_and_stand_in_the_table(owner: Client, group: Group):
    page = owner.get(f"/designs/{group.design}/")
    place = next(each for each in markup.read(page.content).all("div") if "data-spec-url" in each.attrs)
    address = place.attrs["data-spec-url"]
    assert address.startswith(f"/designs/{group.design}/own-chart.json?view=rejection")
    spec = spec_of(owner, address)
    drawn = [each["encoding"]["color"] for each in spec["layer"] if "strokeDash" in each["encoding"]]
    assert f"yours: {TAG}" in drawn[0]["scale"]["domain"] and drawn[0]["legend"]
    rows = next(rows for rows in spec["datasets"].values() if "own0" in rows[0])
    own = design_curves.list_own_curves(group.owner, group.design)[0]
    assert [row["own0"] for row in rows] == own.rejection_db
    assert any(f"Yours: {TAG}, dB" == each.text for each in markup.read(page.content).all("th"))
    assert TAG in json.dumps(spec_of(owner, address.replace("view=rejection", "view=impedance")))


def test_they_are_in_no_address_that_others_see(owner: Client, group: Group):
    others = (Client(), signed_in(group.stranger), signed_in(group.steward))
    address = f"/designs/{group.design}/"
    for client in others:
        for path in (address, f"{address}chart.json", f"{address}chart.svg"):
            assert TAG not in client.get(path).content.decode()
    for client in others[1:]:
        assert TAG not in client.get(f"{address}own-chart.json").content.decode()
        assert b"own0" not in client.get(f"{address}own-chart.json").content
    assert others[0].get(f"{address}own-chart.svg").status_code == 302
    assert TAG not in owner.get(f"{address}chart.json").content.decode()
    assert TAG in owner.get(f"{address}own-chart.svg").content.decode()


def test_nothing_keeps_them(owner: Client, group: Group):
    """Neither a cache on the way nor this process's memory of pictures."""
    kept = rendering._render_cached_svg.cache_info().currsize
    for form in ("json", "svg"):
        answer = owner.get(f"/designs/{group.design}/own-chart.{form}?benchmark_db=21.5")
        assert set(answer["Cache-Control"].split(", ")) == {"private", "no-store"}
    assert rendering._render_cached_svg.cache_info().currsize == kept


@pytest.mark.parametrize("tag", ["it's \"5\" \\\\ ' + datum.f + '", "</script>", "x" * 64])
def test_a_tag_stays_a_text(owner: Client, group: Group, tag: str):
    device = factories.device(group.owner, group.design, tag=tag)
    factories.record(group.owner, device, factories.choke_s2p(seed=5))
    drawn = owner.get(f"/designs/{group.design}/own-chart.svg")
    assert drawn.status_code == 200
    assert "yours: " + tag[:5].replace("<", "&lt;").replace('"', "&quot;") in drawn.content.decode().replace(
        "&#39;", "'"
    )


def test_both_scales_reach_page_picture_and_specification(owner: Client, nobody: Client, group: Group):
    for client, name in ((owner, "own-chart"), (nobody, "chart")):
        page = markup.read(client.get(f"/designs/{group.design}/?scale=linear&benchmark_db=25").content)
        (place, *_) = [each for each in page.all("div") if "data-spec-url" in each.attrs]
        picture = next(each for each in page.all("img") if ".svg?view=" in each.attrs["src"])
        for address in (place.attrs["data-spec-url"], picture.attrs["src"]):
            assert f"/{name}." in address and address.endswith("&benchmark_db=25&scale=linear")
        spec = spec_of(client, place.attrs["data-spec-url"])
        assert {
            each["encoding"]["x"]["scale"]["type"] for each in spec["layer"] if "x" in each["encoding"]
        } == {"linear"}
        links = {each.text: each for each in page.all("a") if each.attrs["href"].endswith("#charts")}
        assert links["linear"].attrs["aria-current"] == "true"
        assert links["logarithmic"].attrs["href"] == "?benchmark_db=25#charts"  # the rest stays
    assert nobody.get(f"/designs/{group.design}/?scale=cubic").status_code == 400


def test_a_test_and_a_comparison_have_both_scales_too(owner: Client, group: Group):
    for page in (f"/tests/{group.test}/", f"/designs/compare/?design={group.design}"):
        asked = page + ("&" if "?" in page else "?") + "scale=linear"
        places = [
            each.attrs["data-spec-url"]
            for each in markup.read(owner.get(asked).content).all("div")
            if "data-spec-url" in each.attrs
        ]
        assert places
        for place in places:
            assert '"type":"linear"' in owner.get(place).content.decode()


def test_the_figures_behind_where_a_test_stands(owner: Client, group: Group):
    factories.evidence(7, first=6)  # ten people allow a range
    releases.make_release()
    heads = [each.text for each in markup.read(owner.get(f"/tests/{group.test}/").content).all("th")]
    assert "This device, dB" in heads and "One in ten above, dB" in heads


def test_families_are_labelled_as_what_they_are(owner: Client, nobody: Client, group: Group):
    assert "What its families measured" not in markup.words(nobody.get(f"/designs/{group.design}/").content)
    factories.evidence(5, turns=9, peak_ohm=900, first=20)
    factories.evidence(3, conductor="RG-316", first=30)
    releases.make_release()
    words = markup.words(owner.get(f"/designs/{group.design}/?band=30m").content)
    assert "no verdict on this design" in words
    assert (
        "Same core and turns, any wire" in words and "FT240-31 (61 mm, mix 31), 12 turns: 2 designs" in words
    )
    assert "Same mix and ratio, any core" in words and "mix 31, 1:1: 3 designs" in words
    assert "10 devices" in words and "15 devices" in words  # 7 + 3, and 5 more
    public = markup.words(nobody.get(f"/designs/{group.design}/?band=30m").content)
    assert "any wire" not in public and "mix 31, 1:1: 2 designs" in public and "10–19 devices" in public


def test_the_bands_asked_hold_for_the_whole_page(owner: Client, group: Group):
    factories.evidence(3, turns=13, first=20)
    releases.make_release()
    page = owner.get(f"/designs/{group.design}/?band=80m&band=40m")
    words = markup.words(page.content)
    assert "80m, 40m together, at 20 dB" in words and "one more turn" in words
    (pips,) = [each for each in markup.read(page.content).all("ul") if each.attrs.get("class") == "pips"]
    assert "80m" in pips.text and "40m" in pips.text and "20m" not in pips.text
    assert owner.get(f"/designs/{group.design}/?band=7m").status_code == 400
