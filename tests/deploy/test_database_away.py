"""A database that does not answer is a 503 with a time to try again, on pages and on the API alike."""

from __future__ import annotations

import errno
import sqlite3

import psycopg
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.utils import InterfaceError, OperationalError

from measurements.selectors.designs import designs
from measurements.services.operations import disk_room


def full(text: str = "database or disk is full") -> OperationalError:
    """What Django makes of SQLite's error 13 (SQLITE_FULL, sqlite.org/rescode.html)."""
    cause = sqlite3.OperationalError(text)
    cause.sqlite_errorcode = sqlite3.SQLITE_FULL
    error = OperationalError(text)
    error.__cause__ = cause
    return error


@pytest.mark.django_db
@pytest.mark.parametrize("fault", [OperationalError("terminating connection"), InterfaceError("closed")])
@pytest.mark.parametrize("address", ["/designs/", "/api/v1/designs/"])
def test_503_says_when_to_try_again(client, monkeypatch, reference_data, fault, address):
    def away(*_, **__):
        raise fault

    for name in ("list_designs", "rank_designs"):  # of the page, and of the API
        monkeypatch.setattr(designs, name, away)
    client.raise_request_exception = False
    answer = client.get(address)
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert b"terminating" not in answer.content
    monkeypatch.undo()
    assert client.get(address).status_code == 200


@pytest.mark.django_db
def test_other_faults_stay_faults(client, monkeypatch, reference_data):
    def broken(*_, **__):
        raise ZeroDivisionError

    for name in ("list_designs", "rank_designs"):
        monkeypatch.setattr(designs, name, broken)
    client.raise_request_exception = False
    assert client.get("/designs/").status_code == 500


@pytest.mark.django_db
@pytest.mark.parametrize("fault", [full(), OSError(errno.ENOSPC, "No space left on device: /srv/scratch")])
@pytest.mark.parametrize("address", ["/designs/", "/api/v1/designs/"])
def test_a_full_disk_is_said_to_be_full(client, monkeypatch, reference_data, fault, address):
    def no_room(*_, **__):
        raise fault

    for name in ("list_designs", "rank_designs"):
        monkeypatch.setattr(designs, name, no_room)
    client.raise_request_exception = False
    answer = client.get(address)
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert b"no room left to store anything" in answer.content and b"/srv/scratch" not in answer.content


def test_a_form_that_finds_no_room_before_any_view_reads_it(client, monkeypatch, settings):
    """A large file of a page's form is spooled to a disk while the form token is looked for."""

    def no_room(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("django.core.files.uploadedfile.UploadedFile.open", no_room)
    monkeypatch.setattr("django.core.files.uploadhandler.TemporaryFileUploadHandler.new_file", no_room)
    client.handler.enforce_csrf_checks = True
    client.cookies[settings.CSRF_COOKIE_NAME] = "a" * 32
    client.raise_request_exception = False
    answer = client.post("/sign-in/", {"file": SimpleUploadedFile("a.s2p", b"x" * 3 * 1024 * 1024)})
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert b"What you typed is still in the form" in answer.content


@pytest.mark.parametrize(
    ("error", "is_full"),
    [
        (full(), True),
        (psycopg.errors.DiskFull(), True),
        (OSError(errno.EDQUOT, ""), True),
        (OSError(errno.EPIPE, ""), False),
        (OperationalError("database is locked"), False),
        (None, False),
    ],
)
def test_what_counts_as_full(error, is_full):
    assert disk_room.is_disk_full(error) is is_full


def test_a_note_beside_the_point_is_left_out_on_a_full_disk_only():
    with disk_room.ignore_full_disk():
        raise full()
    with pytest.raises(OperationalError), disk_room.ignore_full_disk():
        raise OperationalError("database is locked")
