"""A motivated reader works on what is published: bisection, pictures, filters, families, joint bands."""

from __future__ import annotations

import itertools
import json
import re
from typing import Any

import numpy as np
import pytest
from django.test import Client

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.selectors.designs import designs, families
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.services.releases import releases
from tests import factories
from tests.disclosure_end_to_end.groups import group_of, worst_db

pytestmark = pytest.mark.usefixtures("reference_data")
STEPS_DB = [step / 2 for step in range(20, 81)]  # 10 to 40 dB, as finely as the public may ask
VERDICTS = ("typically_meets", "mixed", "typically_falls_short", "not_enough_devices")


@pytest.fixture(autouse=True)
def _no_limit(settings) -> None:
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000


@pytest.mark.parametrize("people", [5, 6, 8])
def test_below_ten_people_the_public_asks_about_the_house_benchmark_alone(people: int):
    """Trying one benchmark after the other would find where a verdict flips, and so single figures."""
    middle = list(np.linspace(2000, 2600, people - 2))
    near = group_of([1500, *middle, 3200], turns=9)
    releases.make_release()
    for bands in (("30m",), ("30m", "20m")):
        for step in STEPS_DB:
            (row,) = designs.list_designs(ANONYMOUS, bands=bands, benchmark_db=step).results
            shown = row.joint or row.evidence[0]
            assert (row.key, shown["verdict"] is None, shown["chance"] is None) == (near, *[step != 20] * 2)
    met = DesignFilters(verdict="typically_meets")
    assert not designs.list_designs(ANONYMOUS, filters=met, bands=("30m",), benchmark_db=10).results


def test_the_extremes_can_lie_anywhere():
    """The same but for a far poorer and a far better device: the public cannot tell by any benchmark."""
    near = group_of([1500, 2000, 2200, 2400, 3200], turns=9)
    far = group_of([900, 2000, 2200, 2400, 6000], turns=9, style="bifilar")
    releases.make_release()
    answers = [
        [
            designs.get_design(ANONYMOUS, key, bands=("30m",), benchmark_db=step).evidence[0]
            for step in STEPS_DB
        ]
        for key in (near, far)
    ]
    for one, other in zip(*answers, strict=True):
        figures = [shown.pop("rejection_db") for shown in (one, other)]
        for shown in (one, other):  # what is said at the house benchmark rests on all figures
            del shown["verdict"], shown["chance"]
        assert one == other
        assert figures[0]["median"] == figures[1]["median"]
    assert worst_db(near, "30m")[0] > worst_db(far, "30m")[0] + 3


@pytest.mark.parametrize("benchmark_db", [20.1, 20.25, 19.999, 20.5000001])
def test_the_public_cannot_ask_between_the_steps(benchmark_db: float):
    key = group_of([2000] * 5)
    releases.make_release()
    for ask in (
        lambda: designs.get_design(ANONYMOUS, key, benchmark_db=benchmark_db),
        lambda: designs.list_designs(ANONYMOUS, benchmark_db=benchmark_db),
        lambda: families.list_families_by_core(ANONYMOUS, benchmark_db=benchmark_db),
    ):
        with pytest.raises(BenchnightError) as caught:
            ask()
        assert caught.value.code == "benchmark.step"
    for address in (f"/api/v1/designs/{key}/", f"/api/v1/designs/{key}/chart/", "/api/v1/designs/"):
        assert Client().get(f"{address}?benchmark_db={benchmark_db}").status_code == 400


def test_pictures_for_the_public_hold_no_device_and_nothing_finer_than_a_decibel():
    key = group_of([1700, 1900, 2100, 2300, 2500, 2900])
    releases.make_release()
    exact = {f"{value:.{digits}f}" for value in worst_db(key, "40m") for digits in (1, 2)}
    exact = {text for text in exact if (2 * float(text)) % 1}
    address = f"/api/v1/designs/{key}/chart/"
    for picture in (f"{address}?format=svg", f"/designs/{key}/chart.svg"):
        drawing = Client().get(picture).content.decode()
        said = re.findall(r'aria-label="([^"]*)"', drawing) + re.findall(r"<text[^>]*>([^<]*)<", drawing)
        figures = [float(text) for each in said for text in re.findall(r"(?:median|dB): (-?[\d.]+)", each)]
        assert len(figures) > 40 and all(value % 1 == 0 for value in figures), picture
        assert not [text for text in exact for each in said if f": {text}" in each], picture
    for picture in (address, f"/designs/{key}/chart.json"):
        assert not [text for text in exact if f":{text}" in Client().get(picture).content.decode()], picture
    values = list(_decibels(json.loads(Client().get(address).content)))
    assert len(values) > 40 and all(value % 1 == 0 for value in values)


def test_a_picture_does_not_follow_the_extremes():
    """A far poorer and a far better device move no point of the public's picture by more than a step."""
    near = group_of([2000, 2100, 2200, 2300, 2400], turns=9)
    far = group_of([1000, 2100, 2200, 2300, 5000], turns=11)
    releases.make_release()
    drawn = [
        np.array(_decibels(json.loads(Client().get(f"/api/v1/designs/{key}/chart/").content)))
        for key in (near, far)
    ]
    assert worst_db(near, "30m")[0] > worst_db(far, "30m")[0] + 3
    assert len(drawn[0]) == len(drawn[1]) > 40
    # a step: noise of 0.0001 may carry a median over the edge between two
    assert np.max(np.abs(drawn[0] - drawn[1])) <= 1


def test_no_filter_and_no_order_says_more_than_the_design_does():
    """Under its threshold a design is listed as one that nobody has tested, whatever is asked."""
    shown_to_public = group_of([2000, 2100, 2200, 2300, 2400], turns=8)
    for turns, people in ((9, 4), (10, 3), (11, 2), (12, 1)):
        group_of([900.0 + 100 * turns] * people, turns=turns)
    untested = factories.design(factories.member("p-0"), turns=13)
    releases.make_release()
    alone = {
        row.key: row.evidence
        for row in designs.list_designs(ANONYMOUS, bands=("30m",), order="title").results
    }
    assert {key for key, shown in alone.items() if shown[0]["devices"]} == {shown_to_public}
    (nothing,) = alone[untested]
    assert all(shown == (nothing,) for key, shown in alone.items() if key != shown_to_public)
    for order, verdict in itertools.product(("verdict", "rejection", "devices", "title"), (None, *VERDICTS)):
        page = designs.list_designs(
            ANONYMOUS, filters=DesignFilters(verdict=verdict), bands=("30m",), order=order
        )
        keys = [row.key for row in page.results]
        hidden = [row.title for row in page.results if row.key != shown_to_public]
        assert hidden == sorted(hidden), (order, verdict)  # by title, as if nobody had tested them
        assert all(verdict in (None, alone[key][0]["verdict"]) for key in keys)


@pytest.mark.parametrize("circle", ["public", "members"])
def test_a_family_minus_its_members_leaves_nobody(circle: str):
    """Pooled devices are those of designs that this reader sees one by one: nothing is left to subtract."""
    viewer = ANONYMOUS if circle == "public" else factories.member("reader")
    for style, people in (("coax", 6), ("bifilar", 4), ("twisted_pair", 2)):
        group_of([2000 + 100 * number for number in range(people)], turns=9, style=style)
    releases.make_release()
    (family,) = families.list_families_by_core(viewer, bands=("30m",))
    singles = [row.evidence[0] for row in designs.list_designs(viewer, bands=("30m",)).results]
    seen = [single for single in singles if single["devices"] is not None]
    assert family.designs == len(seen) == (1 if circle == "public" else 2)
    pooled = family.evidence[0]["devices"]
    assert pooled == (seen[0]["devices"] if circle == "public" else sum(each["devices"] for each in seen))


def test_bands_asked_together_count_no_fewer_people_than_one_by_one():
    """Devices that cover one band and not the other must not leave a small group on both."""
    key = group_of([2000, 2100, 2200, 2300, 2400])
    releases.make_release()
    bands = [shown["band"] for shown in designs.get_design_evidence(ANONYMOUS, key) if shown["devices"]]
    for pair in itertools.combinations(bands, 2):
        joint = designs.get_design(ANONYMOUS, key, bands=pair).joint
        assert joint is not None and joint["devices"] in (None, "5-9")
    beyond = designs.get_design(ANONYMOUS, key, bands=("30m", "6m")).joint  # every sweep ends at 30 MHz
    assert beyond is not None and beyond["devices"] is None and beyond["verdict"] == "not_enough_devices"


def _decibels(specification: Any) -> list[float]:
    """Every median of rejection in the data of a public specification."""
    return [
        float(row["median"])
        for rows in specification["datasets"].values()
        for row in rows
        if row.get("median") is not None
    ]
