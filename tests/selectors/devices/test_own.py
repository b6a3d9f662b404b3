"""Own devices and tests: the owner's and the steward's to see, nobody else's to know of."""

from __future__ import annotations

import hashlib

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.selectors import paging
from measurements.selectors.accounts import viewers
from measurements.selectors.devices import devices
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import listed_devices
from tests import factories


@pytest.fixture
def test_key(member):
    return factories.record(member, factories.device(member))


def test_the_owner_and_a_steward_see_a_test(member, test_key):
    for viewer in (member, factories.member("Di", "steward")):
        row = tests.get_test(viewer, test_key)
        assert (row.kind, row.device_tag, row.sweeps[0].role) == ("common_mode", "C-1", "sweep")
        assert row.result["bands"]
        assert tests.get_traces(viewer, test_key)["rejection_db"]
        assert [found.key for found in tests.list_tests(viewer).results] == [test_key]
        assert devices.get_device(viewer, row.device).tests == 1


def test_for_anybody_else_it_is_not_there(member, test_key):
    device = listed_devices.list_devices(member).results[0].key
    for viewer in (factories.member("Bo"), factories.member("Cy", "operator")):
        for read in (
            lambda viewer: tests.get_test(viewer, test_key),
            lambda viewer: tests.get_test(viewer, "no-such-key"),
            lambda viewer: tests.get_sweep_file(viewer, test_key, "sweep"),
            lambda viewer: tests.get_traces(viewer, test_key),
            lambda viewer: devices.get_device(viewer, device),
        ):
            with pytest.raises(BenchnightError) as caught:
                read(viewer)
            assert caught.value.kind == "not_found"
        assert tests.list_tests(viewer).results == listed_devices.list_devices(viewer).results == ()
    with pytest.raises(BenchnightError) as caught:
        tests.get_test(ANONYMOUS, test_key)
    assert caught.value.kind == "forbidden"


def test_a_list_holds_the_same_row_as_the_test_alone(member):
    device = factories.device(member)
    kinds = ("common_mode", "load_match")
    keys = [factories.record(member, device, kind=kind) for kind in kinds]
    with CaptureQueriesContext(connection) as queries:
        listed = {row.key: row for row in tests.list_tests(member).results}
    assert listed == {key: tests.get_test(member, key) for key in keys}
    assert all(len(row.sweeps) == 1 for row in listed.values())
    # the rows, their files; a third would be a read for each of them
    assert len(queries) == 2


def test_the_original_bytes_come_back(member, test_key):
    row, data = tests.get_sweep_file(member, test_key, "sweep")
    assert data == factories.choke_s2p()
    assert (row.sha256, row.size) == (hashlib.sha256(data).hexdigest(), len(data))
    with pytest.raises(BenchnightError) as caught:
        tests.get_sweep_file(member, test_key, "jig_open")
    assert caught.value.code == "sweep.not_found"


def test_lists_page_without_repeating_and_in_fixed_queries(member):
    design = factories.design(member)
    for index in range(23):
        device = factories.device(member, design, tag=f"C-{index}")
        factories.record(member, device, factories.choke_s2p(seed=index, points=101))
    for read in (listed_devices.list_devices, tests.list_tests):
        seen, cursor = [], None
        while True:
            page = read(member, cursor=cursor, limit=5)
            seen += [row.key for row in page.results]
            cursor = page.next_cursor
            if cursor is None:
                break
        assert len(seen) == len(set(seen)) == 23
        counts = []
        for limit in (2, 20):
            with CaptureQueriesContext(connection) as queries:
                assert len(read(member, limit=limit).results) == limit
            counts.append(len(queries))
        assert counts[0] == counts[1] <= 4


def test_cursors_are_opaque_and_checked():
    cursor = paging.encode_cursor({"before": 7})
    assert paging.decode_cursor(cursor, before=int) == {"before": 7}
    assert paging.decode_cursor(None, before=int) is None
    for wrong in (
        "x",
        cursor + "AA",
        paging.encode_cursor({"before": -1}),
        paging.encode_cursor({"before": True}),
        "é",
    ):
        with pytest.raises(BenchnightError):
            paging.decode_cursor(wrong, before=int)


def test_a_suspended_account_is_nobody(member):
    from measurements.models import Member

    account = Member.objects.get(pk=member.member_id)
    assert viewers.get_viewer(account) == member == viewers.find_viewer("Ada")
    account.is_active = False
    assert viewers.get_viewer(account) == ANONYMOUS
