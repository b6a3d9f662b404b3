"""The look-up: what the release supports, as each circle may see it, in a fixed number of queries."""

from __future__ import annotations

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import Design, Result
from measurements.selectors.designs import designs
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.selectors.evidence import design_curves
from measurements.services.designs import designs as designs_services
from measurements.services.reference import reference_files
from measurements.services.releases import releases
from tests import factories, scenes

pytestmark = pytest.mark.usefixtures("reference_data")


def build_group():
    """A good design of 6 people, a poor one of 5, one of 4, and one of 2; released."""
    keys = {
        "good": factories.evidence(6, peak_ohm=3000, turns=12),
        "poor": factories.evidence(5, peak_ohm=300, turns=6, style="bifilar"),
        "four": factories.evidence(4, peak_ohm=3000, turns=10, mix="43", conductor="RG-316"),
        "two": factories.evidence(2, peak_ohm=3000, turns=9, mix="52", conductor="RG-400", split=True),
    }
    releases.make_release()
    return keys


designs_group = scenes.share("designs_group", build_group)


@pytest.fixture
def group(designs_group, db):
    return designs_group


def verdicts(viewer, **asked):
    page = designs.list_designs(viewer, **asked)
    return {row.key: (row.joint or row.evidence[0])["verdict"] for row in page.results}


def test_members_see_what_the_evidence_supports(group):
    found = verdicts(factories.member("reader"), bands=("30m",))
    assert found[group["good"]] == "typically_meets"
    assert found[group["poor"]] == "typically_falls_short"
    assert found[group["four"]] == "typically_meets"
    assert found[group["two"]] == "not_enough_devices"
    assert list(found)[-1] == group["two"]
    assert list(found).index(group["poor"]) == 2


def test_the_public_sees_from_five_contributors_on_and_coarsely(group):
    found = verdicts(ANONYMOUS, bands=("30m",))
    assert found[group["four"]] == "not_enough_devices"
    (shown,) = designs.get_design_evidence(ANONYMOUS, group["good"], bands=("30m",))
    assert shown["devices"] == "5-9"
    assert shown["rejection_db"]["median"] % 1 == 0
    assert shown["share"] is None and shown["passing"] is None and shown["rejection_db"]["p10"] is None
    (exact,) = designs.get_design_evidence(factories.member("reader"), group["good"], bands=("30m",))
    assert (exact["devices"], exact["contributors"], exact["passing"]) == (6, 6, None)
    assert exact["rejection_db"] == shown["rejection_db"]


def test_bands_asked_together_are_judged_device_by_device(group):
    (row,) = (
        row
        for row in designs.list_designs(factories.member("reader"), bands=("30m", "160m")).results
        if row.key == group["good"]
    )
    singles = {shown["band"]: shown for shown in row.evidence}
    assert set(singles) == {"30m", "160m"}
    # the worst band of each device decides, so the joint median is the smaller of the two here
    assert row.joint["rejection_db"]["median"] == min(
        shown["rejection_db"]["median"] for shown in singles.values()
    )


def test_the_benchmark_asked_for_is_the_one_answered(group):
    member = factories.member("reader")
    (at_20,) = designs.get_design_evidence(member, group["good"], bands=("30m",))
    (at_40,) = designs.get_design_evidence(member, group["good"], bands=("30m",), benchmark_db=40)
    assert (at_20["benchmark_db"], at_40["benchmark_db"]) == (20, 40)
    assert at_20["verdict"] == "typically_meets"
    assert at_40["verdict"] is None and at_40["reason"]


def test_the_public_cannot_try_out_single_figures_with_the_benchmark(group):
    """Steps finer than what is shown would find each device's value by where the verdict flips."""
    with pytest.raises(BenchnightError) as caught:
        designs.get_design_evidence(ANONYMOUS, group["good"], benchmark_db=20.1)
    assert caught.value.field == "benchmark_db"
    designs.get_design_evidence(factories.member("reader"), group["good"], benchmark_db=20.1)


@pytest.mark.parametrize(
    ("filters", "expected"),
    [
        ({"mix": "43"}, {"four"}),
        ({"turns_min": 10}, {"good", "four"}),
        ({"turns_max": 6}, {"poor"}),
        ({"style": "bifilar"}, {"poor"}),
        ({"ratio": "1:1"}, {"good", "poor", "four", "two"}),
        ({"ratio": "4:1"}, set()),
        ({"purpose": "choke", "principle": "current"}, {"good", "poor", "four", "two"}),
        ({"core": "1803802"}, {"good", "poor"}),
        ({"verdict": "typically_falls_short"}, {"poor"}),
    ],
)
def test_filters(group, filters, expected):
    page = designs.list_designs(factories.member("reader"), filters=DesignFilters(**filters), bands=("30m",))
    assert {row.key for row in page.results} == {group[name] for name in expected}


@pytest.mark.parametrize("order", ["verdict", "rejection", "devices", "title"])
@pytest.mark.parametrize("bands", [(), ("30m",), ("30m", "20m")])
def test_every_order_pages_through_every_design_once(group, order, bands):
    for viewer in (ANONYMOUS, factories.member("reader")):
        seen, cursor = [], None
        while True:
            page = designs.list_designs(viewer, bands=bands, order=order, cursor=cursor, limit=1)
            seen += [row.key for row in page.results]
            cursor = page.next_cursor
            if cursor is None:
                break
        assert sorted(seen) == sorted(group.values())


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"bands": ("11m",)}, "band"),
        ({"benchmark_db": 9}, "benchmark_db"),
        ({"benchmark_db": float("nan")}, "benchmark_db"),
        ({"order": "luck"}, "order"),
        ({"cursor": "!"}, "cursor"),
        ({"cursor": "eyJhIjoxfQ"}, "cursor"),
        ({"limit": 0}, "limit"),
        ({"limit": 201}, "limit"),
        ({"filters": DesignFilters(verdict="good")}, "verdict"),
        ({"filters": DesignFilters(ratio="x")}, "ratio"),
    ],
)
def test_a_wrong_parameter_is_named(group, asked, field):
    with pytest.raises(BenchnightError) as caught:
        designs.list_designs(ANONYMOUS, **asked)
    assert caught.value.field == field


def test_before_the_first_release_designs_are_there_without_evidence():
    key = factories.evidence(6)
    row = designs.get_design(factories.member("reader"), key)
    assert {shown["verdict"] for shown in row.evidence} == {"not_enough_devices"}


def test_curves_by_circle(group):
    member = factories.member("reader")
    seen = design_curves.get_design_curves(member, group["four"])
    assert seen.devices == 4 and seen.rejection_db["p10"] is None
    assert design_curves.get_design_curves(ANONYMOUS, group["four"]) is None
    assert design_curves.get_design_curves(member, group["two"]) is None
    public = design_curves.get_design_curves(ANONYMOUS, group["good"])
    assert public.rejection_db["p10"] is None
    assert all(value is None or value % 1 == 0 for value in public.rejection_db["median"])
    with pytest.raises(BenchnightError):
        design_curves.get_design_curves(member, "no-such-key")


def test_curves_of_ten_people_have_percentiles_in_half_decibels_for_everybody(reference_data):
    """The figures behind them are read from the tests of the ten and put through numpy's percentiles."""
    key = factories.evidence(10)
    releases.make_release()
    seen = [design_curves.get_design_curves(who, key) for who in (factories.member("reader"), ANONYMOUS)]
    assert seen[0].rejection_db == seen[1].rejection_db
    curves = [bytes(row) for row in Result.objects.values_list("evidence_curve", flat=True)]
    z_ohm = np.array([np.frombuffer(curve, "<c8") for curve in curves])
    exact_db = 20 * np.log10(np.abs(1 + z_ohm / 100))
    for name, percent in (("p10", 10), ("median", 50), ("p90", 90)):
        shown = np.array(seen[0].rejection_db[name], dtype=float)
        known = np.isfinite(shown)
        assert known.sum() > 40
        assert np.all(shown[known] * 2 % 1 == 0)
        assert np.abs(shown - np.percentile(exact_db, percent, axis=0))[known].max() <= 0.26
        assert seen[0].impedance_ohm[name] is not None


def test_queries_do_not_grow_with_the_rows(group):
    member = factories.member("reader")
    counts = []
    for _ in range(2):
        designs.list_designs(member, bands=("30m",), limit=2)  # fills the cache of the release
        with CaptureQueriesContext(
            connection,
        ) as two:
            designs.list_designs(member, bands=("30m",), limit=2)
        counts.append(len(two))
        for turns in range(20, 38):
            factories.design(member, turns=turns)
    with CaptureQueriesContext(connection) as twenty:
        assert len(designs.list_designs(member, bands=("30m",), limit=20).results) == 20
    assert {*counts, len(twenty)} == {counts[0]}
    assert counts[0] <= 6


@pytest.mark.parametrize("typed", ["FT240", "ft 240-31", "FT-240", "2631803802", "26318"])
def test_a_core_is_found_by_size_name_and_by_number(typed, reference_data):
    """FT240-31 is the trade's name of the ring of 2.40 in, mix 31 (general usage, from memory)."""
    by = factories.member("reader")
    design = designs_services.register_design(by=by, recipe_given=factories.recipe()).key
    found = designs.list_designs(by, filters=DesignFilters(core=typed), order="title").results
    assert [row.key for row in found] == [design]
    assert not designs.list_designs(by, filters=DesignFilters(core="FT140"), order="title").results


def test_stored_titles_are_written_anew_with_reference_data(reference_data):
    by = factories.member("reader")
    design = designs_services.register_design(by=by, recipe_given=factories.recipe()).key
    Design.objects.filter(key=design).update(title="1:1 choke, 12 turns coax on 2631803802 (mix 31)")
    reference_files.load_reference_data()
    assert designs.get_design(by, design).title == "12 turns coax on FT240-31 (61 mm, mix 31)"
