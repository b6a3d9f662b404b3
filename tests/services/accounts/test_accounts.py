"""Accounts, one-time links and passwords."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Member, SignInLink
from measurements.services.accounts import accounts
from tests import factories

pytestmark = pytest.mark.django_db


def test_an_account_is_made_once_and_can_change_its_role():
    pk, created = accounts.ensure_member(name="Ada")
    again, created_again = accounts.ensure_member(name="Ada", role="steward")
    assert (pk, created, created_again) == (again, True, False)
    assert Member.objects.get(pk=pk).role == "steward"
    assert accounts.ensure_member(name="Ada")[1] is False
    assert Member.objects.get(pk=pk).role == "steward"  # no role given, none taken
    assert AuditEntry.objects.filter(action="account.ensure").count() == 2


@pytest.mark.parametrize("name", ["", " Ada", "a\nb", "x" * 65, "<b>"])
def test_names_that_are_refused(name):
    with pytest.raises(BenchnightError) as caught:
        accounts.ensure_member(name=name)
    assert caught.value.field == "name"


def test_a_link_opens_once():
    pk, _ = accounts.ensure_member(name="Ada")
    secret = accounts.issue_sign_in_link(name="Ada")
    assert not SignInLink.objects.filter(secret_sha256=secret).exists()  # only its hash is kept
    assert accounts.redeem_sign_in_link(secret=secret) == pk
    with pytest.raises(BenchnightError, match="used already"):
        accounts.redeem_sign_in_link(secret=secret)


def test_a_link_goes_stale_and_a_suspended_account_stays_shut():
    accounts.ensure_member(name="Ada")
    stale = accounts.issue_sign_in_link(name="Ada")
    SignInLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(BenchnightError):
        accounts.redeem_sign_in_link(secret=stale)
    shut = accounts.issue_sign_in_link(name="Ada")
    Member.objects.update(is_active=False)
    with pytest.raises(BenchnightError):
        accounts.redeem_sign_in_link(secret=shut)


def test_a_newer_link_ends_the_older_ones_whatever_made_them(capsys):
    from django.core.management import call_command

    from measurements.services.accounts import membership

    steward = factories.member("Cleo", "steward")

    def printed() -> str:
        call_command("member", "Ada")
        return capsys.readouterr().out.strip().rstrip("/").rpartition("/")[2]

    made = [
        membership.invite_member(by=steward, name="Ada", role="member"),
        printed(),
        membership.reissue_sign_in_link(by=steward, name="Ada"),
        accounts.issue_sign_in_link(name="Ada"),
        printed(),
    ]
    for older in made[:-1]:
        with pytest.raises(BenchnightError, match="used already"):
            accounts.redeem_sign_in_link(secret=older)
    accounts.redeem_sign_in_link(secret=made[-1])
    # of somebody else nothing ends, and a used one stays noted
    assert SignInLink.objects.filter(used_at__isnull=False).count() == 1
    other = accounts.issue_sign_in_link(name="Cleo")
    accounts.issue_sign_in_link(name="Ada")
    assert accounts.redeem_sign_in_link(secret=other) == steward.member_id


def test_no_link_for_nobody():
    with pytest.raises(BenchnightError) as caught:
        accounts.issue_sign_in_link(name="Nobody")
    assert caught.value.kind == "not_found"


def test_a_password_opens_only_its_own_account():
    ada = factories.member("Ada")
    accounts.set_password(by=ada, password="seventeen blue toroids")
    assert accounts.authenticate_member(name="Ada", password="seventeen blue toroids") == ada.member_id
    for name, password in (("Ada", "wrong"), ("Nobody", "seventeen blue toroids"), ("Ada", "")):
        with pytest.raises(BenchnightError) as caught:
            accounts.authenticate_member(name=name, password=password)
        assert caught.value.code == "account.wrong_sign_in"
    Member.objects.update(is_active=False)
    with pytest.raises(BenchnightError):
        accounts.authenticate_member(name="Ada", password="seventeen blue toroids")


def test_a_weak_password_is_refused_with_its_reasons():
    with pytest.raises(BenchnightError) as caught:
        accounts.set_password(by=factories.member("Ada"), password="password")
    assert caught.value.field == "password"
    assert len(caught.value.errors) >= 2


@pytest.mark.parametrize(
    "password",
    [
        "Balun-Unun-Choke-73",
        "benchnight2026!",
        "toroid toroid toroid",
        "Lakeside Radio 1987",
        "ferrite+ada.11",
    ],
)
def test_words_that_anybody_would_try_here_make_no_password(settings, password):
    settings.BENCHNIGHT_GROUP_NAME = "Lakeside Radio"
    with pytest.raises(BenchnightError, match="words that anybody would try here"):
        accounts.set_password(by=factories.member("Ada"), password=password)


@pytest.mark.parametrize("password", ["five lamps over the bench", "901742655380", "balun of uncle Edgar"])
def test_words_of_ones_own_or_no_words_at_all_do(password):
    ada = factories.member("Ada")
    accounts.set_password(by=ada, password=password)
    assert accounts.authenticate_member(name="Ada", password=password) == ada.member_id


def test_what_resembles_the_accounts_name_is_no_password():
    with pytest.raises(BenchnightError, match="too similar to the name"):
        accounts.set_password(by=factories.member("Adalbert Quince"), password="adalbertquince1")


def test_an_account_without_a_password_has_none():
    """A new account can only be entered by a link; no empty or default password opens it."""
    accounts.ensure_member(name="Ada")
    with pytest.raises(BenchnightError):
        accounts.authenticate_member(name="Ada", password="")
