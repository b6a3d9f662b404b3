"""A club night: forty people in a hall, one address towards the internet, everybody signs in."""

from __future__ import annotations

import pytest
from django.test import Client

from measurements.services.accounts import accounts
from tests import factories

PEOPLE = 40
MOST_S = 120
PASSWORD = "seven lanterns over the weir"
BEGIN_S = 1_800_000_030.0  # half-way through a minute: the shortest first window that anybody is due


class Clock:
    """The time that limits count by."""

    def __init__(self) -> None:
        self.now_s = BEGIN_S

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock(monkeypatch) -> Clock:
    running = Clock()
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", running)
    return running


@pytest.fixture
def _plain_hashes(settings):
    """How long a hash takes is measured elsewhere; here it is counted how often one may try."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def people() -> list[str]:
    found = []
    for number in range(PEOPLE):
        viewer = factories.member(f"Guest {number}")
        accounts.set_password(by=viewer, password=PASSWORD)
        found.append(viewer.name)
    return found


def address_in_hall(kind: str, number: int) -> str:
    """One for all, or of IPv6 one each in the same /64."""
    return "192.0.2.10" if kind == "IPv4" else f"2001:db8:5:1::{number + 1:x}"


@pytest.mark.parametrize("kind", ["IPv4", "IPv6"])
def test_forty_people_sign_in_by_password_within_two_minutes(reference_data, clock, _plain_hashes, kind):
    """Every second one mistypes the first time. Whoever is told to wait waits as long as told."""
    names = people()
    due_s = dict.fromkeys(range(PEOPLE), BEGIN_S)
    slips = set(range(0, PEOPLE, 2))
    while due_s:
        number = min(due_s, key=lambda each: (due_s[each], each))
        clock.now_s = max(clock.now_s, due_s[number])
        typed = "a slip of the finger" if number in slips else PASSWORD
        answer = Client().post(
            "/sign-in/",
            {"name": names[number], "password": typed},
            REMOTE_ADDR=address_in_hall(kind, number),
        )
        if answer.status_code == 429:
            due_s[number] = clock.now_s + int(answer["Retry-After"])
        elif answer.status_code == 422:
            slips.discard(number)
            due_s[number] = clock.now_s + 10  # reads what is wrong and types again
        else:
            assert answer.status_code == 302
            del due_s[number]
    assert clock.now_s - BEGIN_S <= MOST_S


@pytest.mark.parametrize("kind", ["IPv4", "IPv6"])
def test_forty_people_press_their_first_link_at_once(reference_data, clock, kind):
    """The steward's printed links: nobody is told to wait."""
    secrets = [accounts.issue_sign_in_link(name=factories.member(f"New {n}").name) for n in range(PEOPLE)]
    answers = [
        Client().post(f"/sign-in/{secret}/", REMOTE_ADDR=address_in_hall(kind, number)).status_code
        for number, secret in enumerate(secrets)
    ]
    assert answers == [302] * PEOPLE


def test_a_hall_is_not_so_wide_that_passwords_can_be_guessed(reference_data, clock, _plain_hashes):
    """One account from one network: five tries a minute, whatever the address within a /64 is."""
    names = people()[:1]
    tries = [
        Client()
        .post("/sign-in/", {"name": names[0], "password": "guess"}, REMOTE_ADDR=f"2001:db8:5:1::{n:x}")
        .status_code
        for n in range(1, 8)
    ]
    assert tries == [422] * 5 + [429] * 2


@pytest.mark.parametrize("step", ["2001:db8:5:1::{:x}", "2001:db8:6:{:x}::1"], ids=["a /64", "a /48"])
def test_no_network_tries_many_accounts_by_changing_its_address(reference_data, clock, settings, step):
    settings.BENCHNIGHT_SIGN_IN_PER_MINUTE = 1
    statuses = [
        Client()
        .post("/sign-in/", {"name": f"nobody-{n}", "password": "guess"}, REMOTE_ADDR=step.format(n))
        .status_code
        for n in range(1, 80)
    ]
    assert 429 in statuses and statuses.index(429) in (12, 72)
