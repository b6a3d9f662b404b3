"""Check my sweep: for anybody, nothing stored, and the file survives the sign-in."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.models import StagedUpload, SweepFile, Test
from tests import factories
from tests.pages import markup
from tests.pages.conftest import signed_in


def file(content: bytes | None = None, name: str = "mine.s2p") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, factories.choke_s2p() if content is None else content)


def check(client: Client, **fields):
    return client.post("/check/", {"sweep": file(), **fields})


def test_a_stranger_gets_curve_verdict_and_advice_and_nothing_is_stored(group):
    before = (Test.objects.count(), SweepFile.objects.count(), StagedUpload.objects.count())
    reply = check(Client(), kind="common_mode")
    words = markup.words(reply.content)
    assert reply.status_code == 200 and "a rejection of 20 dB or more" in words
    assert b'class="fit-0"' in reply.content and "Rejection, dB" in words
    assert "Beside tested designs" in words and "Sign in and keep it" in words
    assert (Test.objects.count(), SweepFile.objects.count(), StagedUpload.objects.count()) == before


def test_the_build_in_words_finds_its_design_and_shows_what_was_not_understood(group):
    words = markup.words(check(Client(), kind="common_mode", build="12t coax FT240-31 fairydust").content)
    assert "Your build is known: 12 turns coax on FT240-31" in words
    assert "Not understood: fairydust" in words


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"# MHz S RI R 50\n3 0 0 .05 0 0 0 0 0\n7 0 0 .04 0 0 0 0 0\n9 0 0 .04 0 0 0 0 0\n", "Common mode"),
        (b"# MHz S RI R 50\n3 .01 0 .97 0 0 0 0 0\n7 .01 0 .97 0 0 0 0 0\n9 .01 0 .97 0 0 0 0 0\n", "Loss"),
    ],
)
def test_a_sweep_without_a_kind_is_guessed_and_asked_back(reference_data, db, content, said):
    """-26 dB through is a choke, -0.26 dB a way through (20 log10 of the magnitude)."""
    reply = Client().post("/check/", {"sweep": file(content)})
    words = markup.words(reply.content)
    assert f"It looks like this test: {said}" in words and "Is that right?" in words
    assert "Held against" not in words and "Keep it?" not in words
    carried = dict(re.findall(r'name="(carried[^"]*)" value="([^"]*)"', reply.content.decode()))
    again = Client().post("/check/", {**carried, "kind": "common_mode"})
    assert "a rejection of 20 dB or more" in markup.words(again.content)


def test_a_faulty_file_is_named_with_its_line(reference_data, db):
    reply = Client().post("/check/", {"sweep": file(b"# MHz S RI R 50\n1 x\n"), "kind": "common_mode"})
    assert reply.status_code == 422 and "line 2" in markup.words(reply.content)


def keep(client: Client):
    return client.post("/check/", {"sweep": file(), "kind": "common_mode", "keep": "yes"})


def test_keeping_carries_the_file_through_the_sign_in(group):
    anyone = Client()
    waits = keep(anyone)["Location"]
    assert "/check/kept/" in waits and "Your file waits" in markup.words(anyone.get(waits).content)
    assert signed_in(group.owner).get(waits).status_code == 302
    member = signed_in(group.stranger)
    assert member.get(waits).status_code == 404  # claimed once
    assert StagedUpload.objects.get().member_id == group.owner.member_id


def test_the_claimed_file_is_in_the_upload_form(group):
    waits, owner = keep(Client())["Location"], signed_in(group.owner)
    form = owner.get(owner.get(waits)["Location"])
    assert form.status_code == 200 and "mine.s2p" in markup.words(form.content)
    assert "to mend" not in markup.words(form.content)


def test_a_member_keeps_it_at_once(group):
    owner = signed_in(group.owner)
    assert "mine.s2p" in markup.words(owner.get(keep(owner)["Location"]).content)


def test_a_form_from_another_site_keeps_nothing(group):
    reply = Client().post(
        "/check/",
        {"sweep": file(), "kind": "common_mode", "keep": "yes"},
        headers={"Origin": "https://elsewhere.example"},
    )
    assert reply.status_code == 200 and not StagedUpload.objects.exists()


def test_an_upload_whose_session_ended_waits_for_the_sign_in(group):
    form = {"kind": "common_mode", "device": group.device, "sweep": file()}
    waits, owner = Client().post("/upload/", form)["Location"], signed_in(group.owner)
    shown = owner.get(owner.get(waits)["Location"])
    assert "mine.s2p" in markup.words(shown.content)


def test_what_waits_unclaimed_is_bounded(group, monkeypatch):
    from measurements.services.uploads import unclaimed_files

    monkeypatch.setattr(unclaimed_files, "MOST_UNCLAIMED_BYTES", 1000)
    refused = keep(Client())
    assert refused.status_code == 429 and not StagedUpload.objects.exists()


def test_checking_is_limited_like_analyse(group, settings):
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1
    stranger = Client()
    assert check(stranger, kind="common_mode").status_code == 200
    assert check(stranger, kind="common_mode").status_code == 429
