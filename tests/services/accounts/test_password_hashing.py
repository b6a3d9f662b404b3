"""Hashes are of the OWASP password sheet and take bounded memory together.

Source of the parameters: OWASP Password Storage Cheat Sheet, section Argon2id: "m=19456 (19 MiB), t=2, p=1"
is one of its equal choices (from memory of the sheet as of 2025).
"""

from __future__ import annotations

import threading
import time

import argon2
import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher, check_password, make_password

from measurements.services.accounts import accounts, password_hashing
from tests import factories

PASSWORD = "seven lanterns over the weir"
AT_ONCE = 24
MIB_AT_MOST = 200


def test_the_parameters_are_those_of_the_sheet():
    """Read by the library that made the hash, not by our code."""
    made = argon2.extract_parameters(make_password(PASSWORD).removeprefix("argon2"))
    assert made.type is argon2.Type.ID
    assert (made.memory_cost, made.time_cost, made.parallelism) == (19_456, 2, 1)


@pytest.mark.django_db
def test_a_hash_of_before_opens_and_is_renewed():
    viewer = factories.member("Ada")
    from measurements.models import Member

    before = Argon2PasswordHasher().encode(PASSWORD, "an invented salt")
    Member.objects.filter(pk=viewer.member_id).update(password=before)
    assert accounts.authenticate_member(name="Ada", password=PASSWORD) == viewer.member_id
    after = Member.objects.get(pk=viewer.member_id).password
    assert after != before and "m=19456" in after


class Watched(password_hashing.MemoryRoom):
    """Notes the most that was ever held, and which hashes began."""

    def __init__(self, most_kib):
        super().__init__(most_kib)
        self.most_held_kib, self.begun = 0, 0

    def hold(self, kib):
        held = super().hold(kib)

        class Noting:
            def __enter__(inner):
                held.__enter__()
                self.most_held_kib = max(self.most_held_kib, self._held_kib)
                self.begun += 1

            def __exit__(inner, *what):
                return held.__exit__(*what)

        return Noting()


def all_at_once(what, times=AT_ONCE):
    gate = threading.Barrier(times)

    def run():
        gate.wait()
        what()

    threads = [threading.Thread(target=run) for _ in range(times)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(60)
    assert not any(each.is_alive() for each in threads)


@pytest.mark.parametrize(
    "encoded",
    [make_password(None), make_password("another"), Argon2PasswordHasher().encode("another", "salt of old")],
    ids=["no such account", "new hash", "hash of before"],
)
def test_many_wrong_passwords_at_once_hold_bounded_memory(monkeypatch, encoded):
    room = Watched(4 * password_hashing.MEMORY_KIB)
    monkeypatch.setattr(password_hashing, "get_memory_room", lambda: room)
    wrong = []
    all_at_once(lambda: wrong.append(check_password("wrong", encoded)))
    assert wrong == [False] * AT_ONCE and room.begun == AT_ONCE
    assert room.most_held_kib <= MIB_AT_MOST * 1024


def test_a_failure_frees_its_memory():
    room = password_hashing.MemoryRoom(10)
    for _ in range(3):
        with pytest.raises(ValueError), room.hold(8):
            raise ValueError
    with room.hold(10):
        pass


def test_what_does_not_fit_waits_and_then_runs():
    room, order = password_hashing.MemoryRoom(10), []

    def late():
        with room.hold(5):
            order.append("late")

    with room.hold(8):
        thread = threading.Thread(target=late)
        thread.start()
        time.sleep(0.1)
        order.append("first")
    thread.join(10)
    assert order == ["first", "late"]


@pytest.mark.parametrize(("processes", "hashes"), [(1, 2), (2, 1)])
def test_processes_share_the_memory(settings, processes, hashes):
    settings.BENCHNIGHT_PROCESSES = processes
    password_hashing.get_memory_room.cache_clear()
    try:
        room = password_hashing.get_memory_room()
    finally:
        password_hashing.get_memory_room.cache_clear()
    assert room._most_kib == hashes * password_hashing.MEMORY_KIB
