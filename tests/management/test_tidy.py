"""`manage.py tidy` removes what is over, and nothing else."""

from __future__ import annotations

import io
import time
from datetime import timedelta

import pytest
from django.apps import apps
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from api.models import AccessToken, KeptReply
from measurements.models import Member, SignInLink, StagedUpload, UseCount
from measurements.services.accounts import access_tokens, accounts
from measurements.services.operations import use_counts
from measurements.services.uploads import staging
from tests import club, factories, intake_samples

NOW = timezone.now()
MAY_GO = {UseCount, StagedUpload, SignInLink, AccessToken, KeptReply, Session}


@pytest.fixture
def ada(reference_data):
    """A member with a device, a test, and a night's intake: nothing of it is ever over."""
    by = factories.member("Ada")
    factories.record(by, factories.device(by))
    operator = club.operator()
    intake_samples.one_file(operator, club.night(operator))
    return by


def tidied() -> str:
    out = io.StringIO()
    call_command("tidy", stdout=out)
    return out.getvalue()


def rows() -> dict[type, int]:
    return {model: model._base_manager.count() for model in apps.get_models()}


def test_with_nothing_over_nothing_goes(ada):
    client = Client()
    client.force_login(Member.objects.get(name="Ada"))
    link, token = accounts.issue_sign_in_link(name="Ada"), access_tokens.issue_token(name="Ada", days=1)
    held = staging.stage_file(by=ada, role="sweep", name="a.s2p", data=b"x")
    use_counts.count_use("api:anon:x", limit=1, window_s=3600)
    KeptReply.objects.create(member_id=ada.member_id, place_sha256="p", request_sha256="r", begun_at=NOW)
    before = rows()
    assert all(before[model] for model in MAY_GO)
    assert "0 sign in links" in tidied()
    assert rows() == before
    assert staging.get_staged_file(by=ada, key=held.key).data == b"x"
    assert client.get("/account/").status_code == 200
    assert Client().get("/api/v1/devices/", HTTP_AUTHORIZATION=f"Token {token}").status_code == 200
    assert accounts.redeem_sign_in_link(secret=link) == ada.member_id


def test_what_is_over_goes_and_the_rest_stays(ada):
    hour, day = timedelta(hours=1), timedelta(days=1)
    for name in ("Ada", "Bea", "Cyn"):  # a newer link of one account ends its older ones
        accounts.issue_sign_in_link(name=factories.member(name).name)
    used, over, _ = SignInLink.objects.order_by("pk")
    SignInLink.objects.filter(pk=used.pk).update(used_at=NOW - hour)
    SignInLink.objects.filter(pk=over.pk).update(expires_at=NOW - hour)
    # a token is shown as over for a month before it goes; one without an end never does
    for label, expiry in {
        "fresh": NOW + day,
        "over": NOW - 29 * day,
        "old": NOW - 31 * day,
        "ever": None,
    }.items():
        access_tokens.issue_token(name="Ada", days=1, label=label)
        AccessToken.objects.filter(label=label).update(expiry=expiry)
    for name, expires_at in {"kept.s2p": NOW + hour, "gone.s2p": NOW - hour}.items():
        staging.stage_file(by=ada, role="sweep", name="next.s2p", data=b"x")
        StagedUpload.objects.filter(name="next.s2p").update(name=name, expires_at=expires_at)
    for place, begun_at in {"kept": NOW - 23 * hour, "gone": NOW - 25 * hour}.items():
        KeptReply.objects.create(
            member_id=ada.member_id, place_sha256=place, request_sha256="r", begun_at=begun_at, status=201
        )
    for key, age_s in {"kept": 3600, "gone": 2 * use_counts.DAY_S}.items():
        use_counts.count_use(key, limit=1, window_s=60, now=time.time() - age_s)
    for expire_date in (NOW + hour, NOW - hour):
        session = SessionStore()
        session.create()
        Session.objects.filter(pk=session.session_key).update(expire_date=expire_date)
    before = rows()
    said = tidied()
    after = rows()
    assert said == (
        "Removed what is over: 1 counts of uses, 1 staged files, 2 sign in links, 1 tokens, "
        "0 shown bundles, 1 kept replies, and sessions\n"
    )
    assert {model for model in before if before[model] != after[model]} == MAY_GO
    assert set(AccessToken.objects.values_list("label", flat=True)) == {"fresh", "over", "ever"}
    assert [row.name for row in StagedUpload.objects.all()] == ["kept.s2p"]
    assert [row.place_sha256 for row in KeptReply.objects.all()] == ["kept"]
    counted = UseCount.objects.exclude(key__startswith="stored:")  # of today: what recording counted up
    assert [row.key for row in counted] == ["kept"]
    assert Session.objects.get().expire_date > NOW
    assert SignInLink.objects.get().used_at is None
    tidied()
    assert rows() == after
