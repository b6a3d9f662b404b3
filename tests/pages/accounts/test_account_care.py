"""Of the own account: a copy of everything, signing out everywhere, deleting it."""

from __future__ import annotations

import io
import zipfile

from django.conf import settings
from django.test import Client

from measurements.models import Device, Member
from measurements.pages.accounts import browser_sessions
from measurements.services.accounts import accounts
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"


def test_the_copy_is_a_zip_of_what_is_ones_own(owner: Client, group: Group):
    answer = owner.post("/account/copy/")
    assert answer.status_code == 200 and answer["Content-Type"] == "application/zip"
    assert answer["Content-Disposition"].startswith('attachment; filename="benchnight-account-')
    archive = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
    assert any(group.test in name for name in archive.namelist())
    assert archive.testzip() is None


def test_copies_are_counted(reference_data, monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)
    client = signed_in(factories.member("Nils"))
    for _ in range(6):
        assert b"".join(client.post("/account/copy/").streaming_content)
    refused = client.post("/account/copy/")
    assert refused.status_code == 429 and 0 < int(refused["Retry-After"]) <= 3600


def test_signing_out_everywhere(group: Group):
    here, elsewhere = signed_in(group.owner), signed_in(group.owner)
    assert here.post("/account/sign-out-everywhere/")["Location"] == "/sign-in/"
    assert here.get("/account/").status_code == elsewhere.get("/account/").status_code == 302


def test_deleting_says_what_it_means_first(owner: Client, group: Group):
    text = markup.words(owner.get("/account/delete/").content)
    assert "2 devices of yours are part of the current release" in text
    assert "cannot be recalled" in text
    refused = owner.post("/account/delete/", {"name": "somebody"})
    assert refused.status_code == 422
    assert markup.read(refused.content).one("input", id="id_name").attrs["value"] == "somebody"
    assert Member.objects.filter(name="person-0").exists()
    gone = owner.post("/account/delete/", {"name": "person-0"})
    assert (gone.status_code, gone["Location"]) == (302, "/")
    assert not Device.objects.filter(key=group.device).exists()
    assert owner.get("/account/").status_code == 302


def test_an_account_with_a_password_is_deleted_with_it_only(group: Group):
    accounts.set_password(by=group.stranger, password=PASSWORD)
    client = signed_in(group.stranger)
    wrong = client.post("/account/delete/", {"name": "Ben", "password": "wrong"})
    assert wrong.status_code == 422 and "not the account&#x27;s password" in wrong.content.decode()
    assert client.post("/account/delete/", {"name": "Ben", "password": PASSWORD}).status_code == 302


def test_a_new_password_asks_for_the_present_one_and_counts_the_tries(group: Group):
    accounts.set_password(by=group.owner, password=PASSWORD)
    client = signed_in(group.owner, by_link=False)
    new = "ten lamps over the bench"
    for number in range(settings.BENCHNIGHT_SIGN_IN_PER_MINUTE + 1):
        answer = client.post("/account/", {"present": f"wrong {number}", "password": new, "again": new})
    assert answer.status_code in (422, 429)  # 422 where the minute turned meanwhile
    if answer.status_code == 429:
        assert 0 < int(answer["Retry-After"]) <= 60
    assert accounts.authenticate_member(name="person-0", password=PASSWORD)


def test_the_present_password_is_asked_for_only_where_there_is_one(group: Group):
    client = signed_in(group.owner)
    assert "id_present" not in client.get("/account/").content.decode()
    accounts.set_password(by=group.owner, password=PASSWORD)
    client = signed_in(group.owner, by_link=False)
    new = "ten lamps over the bench"
    refused = client.post("/account/", {"present": "wrong", "password": new, "again": new})
    assert "not the account's present password" in markup.words(refused.content)
    elsewhere = signed_in(group.owner)
    answer = client.post("/account/", {"present": PASSWORD, "password": new, "again": new})
    assert answer.status_code == 302
    assert client.get("/account/").status_code == 200 and elsewhere.get("/account/").status_code == 302


def test_who_forgot_the_password_replaces_it_by_a_link_within_a_quarter_of_an_hour(group: Group):
    accounts.set_password(by=group.owner, password=PASSWORD)
    client, new = Client(), "ten lamps over the bench"
    client.post(f"/sign-in/{accounts.issue_sign_in_link(name='person-0')}/")
    assert "id_present" not in client.get("/account/").content.decode()
    session = client.session
    session[browser_sessions.OPENED_BY_LINK] -= browser_sessions.LINK_SESSION_S + 1
    session.save()
    late = client.post("/account/", {"password": new, "again": new})
    assert late.status_code == 422 and accounts.authenticate_member(name="person-0", password=PASSWORD)
    client.post(f"/sign-in/{accounts.issue_sign_in_link(name='person-0')}/")
    assert client.post("/account/", {"password": new, "again": new}).status_code == 302
    assert accounts.authenticate_member(name="person-0", password=new)
    assert "id_present" in client.get("/account/").content.decode()


def test_the_last_steward_stays(group: Group):
    client = signed_in(group.steward)
    refused = client.post("/account/delete/", {"name": "Cleo"})
    assert refused.status_code == 422 and "only steward" in markup.words(refused.content)
    factories.member("Dora", "steward")
    assert client.post("/account/delete/", {"name": "Cleo"}).status_code == 302
