"""The algorithm of stored hashes can be changed: new ones follow it, what was stored before still opens.

Known digests: NIST FIPS 180-4 (SHA-256) and FIPS 202 (SHA3-256), examples for the message "abc".
"""

from __future__ import annotations

import pytest
from django.core.management import call_command

from measurements.errors import BenchnightError
from measurements.models import CalendarFeed, RecoveryCode, SignInLink
from measurements.services.accounts import accounts, recovery_codes
from measurements.services.operations import secret_hashes
from measurements.services.upkeep import calendar_feeds
from tests import factories

SHA256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
SHA3 = "3a985da74fe225b2045c172d6bd390bd855f086e3e9d525b46bfe24511431532"


def test_hashes_are_those_of_the_standards(monkeypatch):
    assert secret_hashes.hash_secret("abc") == SHA256
    monkeypatch.setattr(secret_hashes, "IN_USE", ("sha3_256", "sha256"))
    assert secret_hashes.list_hashes("abc") == (SHA3, SHA256)
    assert secret_hashes.hash_secret("abc") == SHA3


@pytest.mark.django_db
def test_what_was_stored_before_a_change_still_opens(monkeypatch):
    ben = factories.member("Ben")
    link, feed = accounts.issue_sign_in_link(name="Ben"), calendar_feeds.create_calendar_feed(by=ben)
    codes = recovery_codes.renew_recovery_codes(by=ben)
    before = {
        SignInLink.objects.get().secret_sha256,
        CalendarFeed.objects.get().secret_sha256,
        *RecoveryCode.objects.values_list("code_sha256", flat=True),
    }
    monkeypatch.setattr(secret_hashes, "IN_USE", ("sha3_256", "sha256"))
    assert recovery_codes.use_recovery_code(by=ben, code=codes[0])
    assert calendar_feeds.open_calendar_feed(secret=feed)[0].member_id == ben.member_id
    assert accounts.redeem_sign_in_link(secret=link) == ben.member_id
    accounts.issue_sign_in_link(name="Ben")
    assert SignInLink.objects.get(used_at=None).secret_sha256 not in before


@pytest.mark.django_db
def test_an_algorithm_that_is_given_up_opens_nothing(monkeypatch, capsys):
    call_command("member", "Ben")
    secret = capsys.readouterr().out.strip().rstrip("/").rpartition("/")[2]
    monkeypatch.setattr(secret_hashes, "IN_USE", ("sha3_256",))
    with pytest.raises(BenchnightError, match="never one of ours"):
        accounts.redeem_sign_in_link(secret=secret)
