"""Stewards change bands, limits and conductors, dated and sourced; old tests stay judged as they were."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import Allocation, AuditEntry, Benchmark, Conductor, Result
from measurements.rf import analysis
from measurements.selectors.reference import reference
from measurements.services.designs import designs
from measurements.services.reference import band_plan, benchmarks, conductors, reference_files
from measurements.services.tests import recomputation
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
SOURCE = "Decision of the spring meeting"


@pytest.fixture
def steward():
    return factories.member("stella", "steward")


def band(name: str, on: date):
    return next((row for row in reference.list_bands(on=on) if row.band == name), None)


def test_a_changed_band_begins_on_its_day_and_the_old_row_ends_before(steward):
    day = date(2027, 4, 1)
    band_plan.change_band(
        by=steward, band="80m", start_hz=3.5e6, stop_hz=3.75e6, valid_from=day, source=SOURCE
    )
    before, after = band("80m", day - timedelta(days=1)), band("80m", day)
    assert before.valid_to == date(2027, 3, 31) and before.stop_hz != 3.75e6
    assert (after.stop_hz, after.source, after.basis, after.valid_to) == (
        3.75e6,
        SOURCE,
        "set by the group",
        None,
    )
    entry = AuditEntry.objects.get(action="band.change")
    assert entry.subject.endswith("/80m") and entry.detail["valid_from"] == "2027-04-01"


def test_loading_reference_data_again_keeps_what_stewards_wrote(steward):
    today = timezone.now().date()
    band_plan.change_band(
        by=steward, band="80m", start_hz=3.5e6, stop_hz=3.75e6, valid_from=today, source=SOURCE
    )
    band_plan.end_band(by=steward, band="60m", last_day=today, source=SOURCE)
    newest = Benchmark.objects.filter(kind="load_match").latest("as_of").as_of
    benchmarks.change_benchmark(
        by=steward, kind="load_match", metric="swr", value=1.3, as_of=newest, source=SOURCE
    )
    conductors.add_conductor(by=steward, name="LMR-100", outer_mm=2.79, source=SOURCE)
    reference_files.load_reference_data()
    assert [row.band for row in reference.list_bands(on=today)].count("80m") == 1
    assert band("80m", today).stop_hz == 3.75e6
    assert band("60m", today + timedelta(days=1)) is None
    assert Benchmark.objects.get(kind="load_match", as_of=newest).value == 1.3
    assert Conductor.objects.get(name="LMR-100").source == SOURCE


def test_a_band_ends_and_a_new_one_begins(steward):
    band_plan.end_band(by=steward, band="60m", last_day=date(2027, 6, 30), source=SOURCE)
    assert band("60m", date(2027, 6, 30)) is not None and band("60m", date(2027, 7, 1)) is None
    assert "its end: Decision" in band("60m", date(2027, 6, 30)).source
    band_plan.change_band(
        by=steward, band="8m", start_hz=40.66e6, stop_hz=40.7e6, valid_from=date(2027, 1, 1), source=SOURCE
    )
    assert band("8m", date(2027, 1, 1)).start_hz == 40.66e6
    with pytest.raises(BenchnightError) as refused:
        band_plan.end_band(by=steward, band="60m", last_day=date(2027, 7, 30), source=SOURCE)
    assert refused.value.code == "band.not_found"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"band": "eighty"}, "band"),
        ({"start_hz": 5.0}, "start_hz"),
        ({"stop_hz": float("nan")}, "stop_hz"),
        ({"start_hz": 3.9e6}, "stop_hz"),
        ({"valid_from": date(1999, 1, 1)}, "valid_from"),
        ({"valid_from": date(2000, 1, 1)}, "valid_from"),
        ({"source": " "}, "source"),
        ({"start_hz": 6.9e6, "stop_hz": 7.05e6}, "start_hz"),
    ],
)
def test_a_band_that_cannot_be_is_refused_beside_its_field(steward, changes, field):
    given = {
        "band": "80m",
        "start_hz": 3.5e6,
        "stop_hz": 3.8e6,
        "valid_from": date(2027, 1, 1),
        "source": SOURCE,
    }
    rows = list(Allocation.objects.values_list("pk", "valid_to"))
    with pytest.raises(BenchnightError) as refused:
        band_plan.change_band(by=steward, **{**given, **changes})
    assert field in {fault.field for fault in refused.value.errors}
    assert list(Allocation.objects.values_list("pk", "valid_to")) == rows


def test_a_new_limit_counts_for_new_tests_and_not_for_stored_ones(steward, monkeypatch):
    device = factories.device(steward)
    old = factories.record(steward, device)
    today = timezone.now().date()
    benchmarks.change_benchmark(
        by=steward, kind="common_mode", metric="rejection_db", value=30, as_of=today, source=SOURCE
    )
    new = factories.record(steward, device, factories.choke_s2p(seed=9))

    def limit(key: str) -> float:
        return Result.objects.get(test__key=key, current=True).figures["summary"]["benchmark_db"]

    assert (limit(old), limit(new)) == (20.0, 30.0)
    assert reference.get_benchmark_db() == 30.0
    for module in (recomputation, __import__("measurements.services.tests.results", fromlist=["results"])):
        monkeypatch.setattr(module, "ENGINE_VERSION", analysis.ENGINE_VERSION + ".9")
    assert recomputation.recompute_stale_tests() == 2
    assert (limit(old), limit(new)) == (20.0, 30.0)
    entry = AuditEntry.objects.get(action="benchmark.change")
    assert entry.subject == "common_mode.rejection_db"
    assert (entry.detail["before"], entry.detail["after"]) == (20.0, 30)


@pytest.mark.parametrize("kind", ["load_match", "insertion_loss", "balance", "in_situ"])
def test_every_kind_says_by_which_limit_it_was_judged(kind):
    from measurements.rf.request import Limits
    from measurements.services.reference import benchmarks

    summary = {
        "load_match": {"swr_limit": 1.2},
        "in_situ": {"swr_limit": 1.2},
        "insertion_loss": {"loss_limit_db": 0.2},
        "balance": {"amplitude_limit_db": 0.2, "phase_limit_deg": 3.0},
    }[kind]
    expected = {
        "load_match": {"swr": 1.2},
        "in_situ": {"swr": 1.2},
        "insertion_loss": {"loss_db": 0.2},
        "balance": {"amplitude_db": 0.2, "phase_deg": 3.0},
    }[kind]
    assert benchmarks.get_limits_of_result(summary, Limits()) == replace(Limits(), **expected)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"value": 9.5}, "value"),
        ({"value": 40.5}, "value"),
        ({"value": 20.3}, "value"),
        ({"value": float("nan")}, "value"),
        ({"as_of": date(2000, 1, 1)}, "as_of"),
        ({"as_of": date(2999, 1, 1)}, "as_of"),
        ({"source": ""}, "source"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_beside_its_field(steward, changes, field):
    given = {"value": 21.5, "as_of": timezone.now().date(), "source": SOURCE}
    with pytest.raises(BenchnightError) as refused:
        benchmarks.change_benchmark(
            by=steward, kind="common_mode", metric="rejection_db", **{**given, **changes}
        )
    assert {fault.field for fault in refused.value.errors} == {field}
    assert reference.get_benchmark_db() == 20.0


def test_a_new_conductor_can_be_chosen_in_a_recipe(steward):
    conductors.add_conductor(by=steward, name="  LMR-100 ", outer_mm=2.79, source=SOURCE)
    key = designs.register_design(by=steward, recipe_given=factories.recipe(conductor="lmr 100")).key
    assert key
    assert AuditEntry.objects.get(action="conductor.add").subject == "LMR-100"


@pytest.mark.parametrize("name", ["rg 316", "RG/316", "other"])
def test_a_conductor_that_is_spelled_like_another_is_refused(steward, name):
    with pytest.raises(BenchnightError) as refused:
        conductors.add_conductor(by=steward, name=name, outer_mm=None, source=SOURCE)
    assert (refused.value.code, refused.value.errors[0].field) == ("conductor.known", "name")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": "x"}, "name"),
        ({"name": "a <b>"}, "name"),
        ({"outer_mm": 0}, "outer_mm"),
        ({"source": ""}, "source"),
    ],
)
def test_a_conductor_that_cannot_be_is_refused_beside_its_field(steward, changes, field):
    with pytest.raises(BenchnightError) as refused:
        conductors.add_conductor(
            by=steward, **{"name": "LMR-100", "outer_mm": 2.8, "source": SOURCE, **changes}
        )
    assert {fault.field for fault in refused.value.errors} == {field}


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_change_reference_data(role):
    somebody, day = factories.member("mo", role), date(2027, 1, 1)
    for write in (
        lambda: band_plan.change_band(
            by=somebody, band="80m", start_hz=3.5e6, stop_hz=3.7e6, valid_from=day, source=SOURCE
        ),
        lambda: band_plan.end_band(by=somebody, band="80m", last_day=day, source=SOURCE),
        lambda: benchmarks.change_benchmark(
            by=somebody, kind="load_match", metric="swr", value=2, as_of=day, source=SOURCE
        ),
        lambda: conductors.add_conductor(by=somebody, name="LMR-100", outer_mm=None, source=SOURCE),
    ):
        with pytest.raises(BenchnightError) as refused:
            write()
        assert refused.value.code == "account.stewards_only"
