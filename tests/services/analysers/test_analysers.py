"""A member describes an analyser once; tests and nights use it, and nobody else sees it."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import date

import numpy as np
import pytest

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import DescribedAnalyser, Test
from measurements.rf.sweeps.sweep import Sweep
from measurements.selectors.accounts import account_export
from measurements.selectors.analysers import analysers as selectors
from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.analysers import analysers
from measurements.services.nights import nights
from measurements.services.tests import analysis, recomputation, tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import club, factories
from tests.rf.instruments.simulated_checks import CheckedAnalyser

pytestmark = pytest.mark.usefixtures("reference_data")


def write_touchstone(sweep: Sweep) -> Upload:
    """A sweep as a file; columns that were not measured as zeros."""
    lines = ["# Hz S RI R 50"]
    order = [(0, 0)] if sweep.ports == 1 else [(0, 0), (1, 0), (0, 1), (1, 1)]
    for index, frequency in enumerate(sweep.freq_hz):
        pairs = " ".join(f"{sweep.s[index, i, j].real:.9f} {sweep.s[index, i, j].imag:.9f}" for i, j in order)
        lines.append(f"{frequency:.1f} {pairs}")
    return Upload(f"check.s{sweep.ports}p", ("\n".join(lines) + "\n").encode())


@pytest.fixture
def by(db):
    return factories.member("Ada")


@pytest.fixture
def bench() -> CheckedAnalyser:
    return CheckedAnalyser(np.random.default_rng(4), 0.01, port2_match=0.05)


def describe(by, name="bench one", **stated) -> str:
    return analysers.describe_analyser(by=by, name=name, **{"paths": 1, **stated}).key


def refused(code, call, **given):
    with pytest.raises(BenchnightError) as caught:
        call(**given)
    assert caught.value.code == code
    return caught.value


def test_it_is_described_read_changed_and_forgotten(by):
    key = describe(by, calibration="kit at the clips", port2_match_db=26)
    row = selectors.get_analyser(by, key)
    assert (row.name, row.calibration) == ("bench one", "kit at the clips")
    assert row.description == {"paths": 1, "port2_match_db": 26}
    analysers.change_analyser(by=by, analyser=key, name="bench two", paths=2)
    assert selectors.get_analyser(by, key).description == {"paths": 2}
    analysers.forget_analyser(by=by, analyser=key)
    assert selectors.list_analysers(by) == ()


@pytest.mark.parametrize("role", ["member", "operator", "steward", "anonymous"])
def test_nobody_else_knows_of_it(by, role):
    key = describe(by)
    other = ANONYMOUS if role == "anonymous" else factories.member("Other", role)
    assert selectors.list_analysers(other) == ()
    refused("analyser.not_found", selectors.get_analyser, viewer=other, key=key)
    refused("analyser.not_found", analysers.change_analyser, by=other, analyser=key, name="x")
    refused("analyser.not_found", analysers.forget_analyser, by=other, analyser=key)
    refused("analyser.not_found", analysers.check_analyser, by=other, analyser=key, uploads={})
    settings = parse_settings({"kind": "common_mode", "analyser": key})
    sweep = {"sweep": Upload("a.s2p", factories.choke_s2p())}
    refused(
        "analyser.not_found", analysis.analyse_uploads, uploads_by_role=sweep, settings=settings, by=other
    )


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "a\x00"}, "name"),
        ({"paths": 3}, "paths"),
        ({"port2_match_db": 400}, "port2_match_db"),
        ({"noise": float("nan")}, "noise"),
        ({"colour": 1}, "colour"),
        ({"calibration": "x" * 201}, "calibration"),
    ],
)
def test_faults_are_named_by_field(by, given, field):
    with pytest.raises(BenchnightError) as caught:
        analysers.describe_analyser(by=by, **{"name": "one", "calibration": "", **given})
    error = caught.value
    assert [fault.field for fault in error.errors] == [field]


def test_a_name_is_taken_once_and_the_number_is_limited(by, monkeypatch):
    describe(by)
    refused("analyser.name_taken", analysers.describe_analyser, by=by, name="bench one")
    monkeypatch.setattr(analysers, "MOST_ANALYSERS", 1)
    refused("analyser.too_many", analysers.describe_analyser, by=by, name="bench two")


def test_check_sweeps_measure_what_they_can_and_are_forgotten(by, bench):
    key = describe(by)
    load, ohm = bench.read_load()
    uploads = {
        "check_load": write_touchstone(load),
        "check_line": write_touchstone(bench.read_line()),
        "check_through": write_touchstone(bench.read_through()),
    }
    analysers.check_analyser(by=by, analyser=key, uploads=uploads, load_ohm=ohm)
    row = selectors.get_analyser(by, key)
    assert row.checked_on is not None and row.measured["roles"] == sorted(uploads)
    assert 10 ** (-row.description["port2_match_db"] / 20) == pytest.approx(
        np.max(np.abs(bench.port2)), abs=0.02
    )
    assert row.description["reflection_residual"] >= max(map(bench.largest, bench.terms))
    assert not {"raw", "sweep"} & {field.name for field in DescribedAnalyser._meta.concrete_fields}
    analysers.forget_checks(by=by, analyser=key)
    assert selectors.get_analyser(by, key).description == {"paths": 1}


def test_a_test_stores_the_description_it_used_and_keeps_it(by):
    device = factories.device(by)
    key = describe(by, port2_match_db=40, drift_db=0.0)
    cautious = factories.record(by, device)
    used = factories.record(by, device, analyser=key)
    bands = [tests_selectors.get_test(by, test).result["bands"][2] for test in (cautious, used)]
    assert bands[1]["uncertainty"]["rejection_db"] < bands[0]["uncertainty"]["rejection_db"]
    assert Test.objects.get(key=used).settings["analyser"] == {
        "paths": 1,
        "port2_match_db": 40,
        "drift_db": 0.0,
    }
    again = factories.record(by, device, analyser=key)
    assert again == used  # the same bytes and the same named analyser are the same test
    analysers.forget_analyser(by=by, analyser=key)
    assert tests_selectors.get_test(by, used).settings["analyser_key"] == key
    Test.objects.get(key=used).results.update(engine_version="0.0.0")
    assert recomputation.recompute_stale_tests() >= 1
    newest = tests_selectors.get_test(by, used).result["bands"][2]
    assert newest["uncertainty"] == bands[1]["uncertainty"]


def test_a_night_uses_its_analyser_for_every_test_without_one(db):
    operator = club.operator()
    key = describe(operator, port2_match_db=40, drift_db=0.0)
    night = club.night(operator)
    version = nights_selectors.get_night(operator, night).version
    nights.update_night(by=operator, night=night, version=version, analyser=key)
    row = nights_selectors.get_night(operator, night)
    assert (row.analyser, row.analyser_name) == (key, "bench one")
    device = club.guests_device(operator, night, club.guest(operator, night))
    stored = tests.record_test(
        by=operator,
        device=device,
        uploads={"sweep": Upload("a.s2p", factories.choke_s2p(one_direction=True))},
        settings=parse_settings({"kind": "common_mode"}),
        measured_on=date(2026, 5, 14),
        night=night,
    ).key
    assert Test.objects.get(key=stored).settings["analyser_key"] == key
    refused(
        "analyser.not_found",
        nights.update_night,
        by=operator,
        night=night,
        version=row.version,
        analyser=describe(factories.member("Bea")),
    )


def test_the_account_takes_its_analysers_along(by):
    describe(by)
    target = io.BytesIO()
    account_export.write_account_export(by, target)
    account = json.loads(zipfile.ZipFile(target).read("account.json"))
    assert [each["name"] for each in account["analysers"]] == ["bench one"]
