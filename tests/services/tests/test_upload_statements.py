"""The statements that an upload writes out by hand give what the ORM gives."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db import connection as default_connection
from django.test.utils import CaptureQueriesContext

from measurements.models import Allocation, AuditEntry, Benchmark, Device, Result, SweepFile, Test
from measurements.rf.bands import Band
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.operations import audit
from measurements.services.reference import band_plan, benchmarks
from measurements.services.tests import upload_statements
from tests import factories

pytestmark = pytest.mark.django_db
DAY = date(2026, 9, 1)


@pytest.fixture
def owner(reference_data):
    return factories.member("ada")


@pytest.fixture
def device(owner):
    return factories.device(owner, factories.design(owner))


def read(device: str, content: str = "0" * 64, digests=(), region: int = 2, on: date = DAY, by=None):
    return upload_statements.read_upload_facts(
        device=device, content_sha256=content, digests=digests, region=region, on=on, by=by
    )


def test_the_device_comes_with_its_owner(owner, device):
    found = read(device).device
    wanted = Device.objects.select_related("contributor").get(key=device)
    assert found == wanted
    assert found.contributor == wanted.contributor
    assert found.contributor.member_id == owner.member_id
    assert "notes" in found.get_deferred_fields()  # what was not read is read when somebody asks for it
    assert found.notes == wanted.notes


def test_nothing_is_found_of_an_unknown_device(device):
    facts = read("nothing")
    assert (facts.device, facts.same_test, facts.is_held) == (None, None, False)


def test_the_same_test_and_a_held_sweep_are_found(owner, device):
    key = factories.record(owner, device, factories.choke_s2p(seed=1))
    test = Test.objects.get(key=key)
    held = SweepFile.objects.get(test=test).raw_sha256
    facts = read(device, test.content_sha256, ["1" * 64, held])
    assert (facts.same_test, facts.is_held) == (key, True)
    other = factories.device(owner, factories.design(owner, turns=9), tag="C-9")
    assert read(other, test.content_sha256).same_test is None
    assert not read(device, digests=["1" * 64]).is_held


@pytest.mark.parametrize("region", [1, 2, 3])
@pytest.mark.parametrize("on", [date(1995, 5, 5), DAY, date(2031, 1, 1)])
def test_bands_and_limits_are_those_in_force(device, region, on):
    row = Allocation.objects.filter(region=region, valid_to=None).first()
    row.valid_to = DAY  # the last day of it
    row.save()
    Benchmark.objects.create(
        kind="common_mode", metric="rejection_db", value=31.5, as_of=DAY, source="s", basis="b", unit="dB"
    )
    for day in (on, DAY + timedelta(days=1)):
        facts = read(device, region=region, on=day)
        assert facts.bands == band_plan.get_band_plan(region, day)
        assert all(isinstance(band, Band) for band in facts.bands)
    assert benchmarks.build_limits(facts.limits) == benchmarks.get_current_limits()
    assert benchmarks.build_limits(facts.limits, benchmark_db=12.0).benchmark_db == 12.0


def test_a_stored_test_reads_the_same_written_out_and_through_the_orm(owner, device):
    for seed in (1, 2):
        key = factories.record(owner, device, factories.choke_s2p(seed=seed))
        (listed, *_) = tests_selectors.list_tests(owner, device=device).results
        assert tests_selectors.get_test(owner, key) == listed
        assert listed.result["kind"] == "common_mode"
        assert len(listed.sweeps) == 1


def test_rows_go_in_whole_or_not_at_all(owner, device):
    key = factories.record(owner, device, factories.choke_s2p(seed=1))
    stored = Test.objects.get(key=key)
    counted = [table.objects.count() for table in (Test, SweepFile, Result, AuditEntry)]
    again = Test(
        device_id=stored.device_id,
        kind="common_mode",
        settings={},
        measured_on=DAY,
        content_sha256=stored.content_sha256,
    )
    entry = audit.build_entry(by=owner, action="test.record", subject=again.key)
    with pytest.raises(IntegrityError), transaction.atomic():
        upload_statements.insert_test(again, [entry])
    assert [table.objects.count() for table in (Test, SweepFile, Result, AuditEntry)] == counted


def test_an_upload_asks_in_one_statement_before_it_writes(owner, device):
    factories.record(owner, device, factories.choke_s2p(seed=6))  # a day's first sums up what is stored
    with CaptureQueriesContext(default_connection) as captured:
        factories.record(owner, device, factories.choke_s2p(seed=7))
    selects = [query["sql"] for query in captured if query["sql"].lstrip("( \n").startswith("SELECT")]
    # the recipe and the makers' figures that its curve is held against are read beside it
    recipe = ("recipe", "_mix", "_core", "_conductor")
    others = [sql for sql in selects if not any(f'{name}"' in sql for name in recipe)]
    assert len(others) == 1 and len(selects) <= 5, selects
