"""A query whose SQL is made once answers as the QuerySet that it is made from."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from importlib import import_module

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from deploy.environment import ROOT
from measurements.models import Allocation, Device, Test
from measurements.models.prepared import Prepared
from tests import factories

pytestmark = pytest.mark.django_db
BY_KEY = Prepared(lambda key: Device.objects.select_related("contributor").filter(key=key), str)


@pytest.fixture
def two_devices(member):
    design = factories.design(member)
    return [factories.device(member, design, tag) for tag in ("C-1", "C-2")]


def test_rows_of_models_come_with_what_they_point_to(member, two_devices):
    for key in two_devices:
        kept, made = BY_KEY.first(key), Device.objects.get(key=key)
        assert {name: value for name, value in vars(kept).items() if name != "_state"} == {
            name: value for name, value in vars(made).items() if name != "_state"
        }
        with CaptureQueriesContext(connection) as queries:
            assert kept.contributor.member_id == member.member_id
        assert not queries
        kept.refresh_from_db()  # it knows its database as any row does
    assert BY_KEY.first("no such key") is None and BY_KEY.all("no such key") == []


def test_values_are_converted_and_named(member, two_devices):
    key = factories.record(member, two_devices[0])
    make = lambda device, on: Test.objects.filter(device=device, measured_on__lte=on).values_list(  # noqa: E731
        "key", "settings", "recorded_at", named=True
    )
    kept, device = Prepared(make, int, date), Device.objects.get(key=two_devices[0])
    (row,), (wanted,) = kept.all(device.pk, date.max), make(device.pk, date.max)
    assert row == wanted and row._fields == wanted._fields and row.key == key
    assert row.settings["kind"] == "common_mode"  # JSON, on both databases
    assert kept.all(device.pk, date(2000, 1, 1)) == []


def test_a_value_that_stands_twice_in_the_statement_is_given_twice(reference_data):
    make = lambda region, on: Allocation.objects.in_force(region, on).values_list("band", flat=True)  # noqa: E731
    kept = Prepared(make, int, date)
    for region in (1, 2, 3):
        assert kept.all(region, date(2026, 1, 1)) == list(make(region, date(2026, 1, 1))) != []


def test_the_statement_is_made_once_and_asked_once_each_time(two_devices):
    made = []
    kept = Prepared(lambda key: made.append(key) or Device.objects.filter(key=key), str)
    with CaptureQueriesContext(connection) as queries:
        tags = [kept.first(key).tag for key in two_devices]
    assert (tags, len(made), len(queries)) == (["C-1", "C-2"], 1, 2)


@pytest.mark.parametrize("values", [(), (7,), (None,), ("a", "b")])
def test_a_value_of_another_kind_is_refused(values):
    with pytest.raises(TypeError, match="This query takes"):
        BY_KEY.all(*values)


def test_a_value_that_never_reaches_the_database_is_found_at_once():
    lost = Prepared(lambda key, tag: Device.objects.filter(key=key), str, str)
    changed = Prepared(lambda key: Device.objects.filter(key=key.upper()), str)
    for query, values in ((lost, ("a", "b")), (changed, ("a",))):
        with pytest.raises(ValueError, match="lost or changed"):
            query.all(*values)


@pytest.mark.django_db(transaction=True)
def test_each_thread_asks_over_its_own_connection(member, two_devices):
    def tag(key):
        try:
            return BY_KEY.first(key).tag
        finally:
            connection.close()

    BY_KEY.first(two_devices[0])
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(tag, two_devices * 10)) == ["C-1", "C-2"] * 10


def test_every_statement_that_is_kept_can_be_made(member, two_devices):
    examples = {str: "x", int: 1, date: date(2026, 1, 1)}
    holders = [path for room in ("measurements", "api") for path in (ROOT / room).rglob("*.py")]
    holders = [path for path in holders if "= Prepared(" in path.read_text(encoding="utf-8")]
    modules = [import_module(".".join(path.relative_to(ROOT).with_suffix("").parts)) for path in holders]
    kept = [value for module in modules for value in vars(module).values() if isinstance(value, Prepared)]
    assert len(kept) >= len(holders) > 1
    for one in kept:
        values = [examples[kind] for kind in one._kinds]
        assert one.all(*values) == list(one._make(*values))
