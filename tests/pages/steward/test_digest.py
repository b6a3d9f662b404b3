"""Stewards see who came in, who was refused what, and whose role changed; no address, no typed name."""

from __future__ import annotations

import time

import pytest
from django.test import Client

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import UseCount
from measurements.selectors.accounts import security_digest
from measurements.services.accounts import accounts, membership, security_counts, security_log
from measurements.services.operations import use_counts
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"
ADDRESS = "192.0.2.77"  # RFC 5737, set aside for documents


def get_digest(viewer: Viewer) -> security_digest.SecurityDigest:
    return security_digest.get_security_digest(viewer, compute_mark=security_log.compute_mark)


def attempts(group: Group) -> None:
    accounts.set_password(by=group.owner, password=PASSWORD)
    asker = Client(REMOTE_ADDR=ADDRESS)
    for name, password in (("person-0", "wrong"), ("person-0", PASSWORD), ("QX-typed", "wrong")):
        asker.post("/sign-in/", {"name": name, "password": password})
    assert signed_in(group.stranger).get("/steward/").status_code == 403
    assert Client(REMOTE_ADDR=ADDRESS).get("/tests/222222222222/").status_code == 302
    headers = {"authorization": "Token wrong"}
    assert Client(REMOTE_ADDR=ADDRESS).get("/api/v1/devices/", headers=headers).status_code == 401
    membership.change_member_role(by=group.steward, name="Ben", role="operator")


def test_it_counts_what_happened_and_by_whom(group: Group):
    attempts(group)
    digest = get_digest(group.steward)
    rows = {(row.what, row.account): row.count for row in digest.sign_ins}
    assert rows == {("password", "person-0"): 1}
    rows = {(row.what, row.account): row.count for row in digest.refused_sign_ins}
    assert rows == {("password", "person-0"): 1, ("password", ""): 1, ("token", ""): 1}
    assert [(row.account, row.count) for row in digest.refused_requests] == [("Ben", 1)]
    change = digest.changes[0]
    assert (change.action, change.subject, change.actor) == ("account.change_role", "Ben", "Cleo")


def test_the_page_shows_it_without_addresses_and_typed_names(group: Group):
    attempts(group)
    words = markup.words(signed_in(group.steward).get("/steward/").content)
    assert "person-0" in words and "member to operator" in words
    assert ADDRESS not in words and "QX-typed" not in words
    stored = " ".join(UseCount.objects.filter(key__startswith="digest:").values_list("key", flat=True))
    for name in (ADDRESS, "QX-typed", "person-0", "Ben"):
        assert name not in stored


def test_names_that_no_account_has_share_one_count(group: Group):
    for number in range(5):
        security_counts.count_event("out", "password", account=f"typed {number}", mark=f"{number:012}")
    assert UseCount.objects.get(key__startswith="digest:").uses == 5


def test_only_stewards_read_it(group: Group):
    for viewer in (group.owner, group.operator):
        with pytest.raises(BenchnightError):
            get_digest(viewer)


def test_days_stay_for_five_weeks_and_older_ones_are_not_in_seven_days(group: Group):
    day, today = use_counts.DAY_S, int(time.time() // use_counts.DAY_S) * use_counts.DAY_S
    for age in (0, 6, 7, 34, 36):
        UseCount.objects.create(key="digest:in:password:-", window=today - age * day, uses=1)
    UseCount.objects.create(key="sign_in:x", window=today - 2 * day, uses=1)
    assert get_digest(group.steward).sum_sign_ins() == 2
    assert use_counts.delete_old_counts() == 2
    kept = UseCount.objects.filter(key__startswith="digest:").values_list("window", flat=True)
    assert sorted((today - window) // day for window in kept) == [0, 6, 7, 34]
