"""What the public is answered is computed once, and anew as soon as anything behind it changed."""

from __future__ import annotations

import gzip
import random
from datetime import date, timedelta

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings

from measurements.models import Allocation, AuditEntry, Design
from measurements.selectors.evidence import public_replies
from measurements.selectors.evidence.public_replies import MOST_BYTES, PublicReply
from measurements.services.designs import merging
from measurements.services.reference import band_plan, benchmarks, conductors, group_settings
from measurements.services.releases import releases
from tests import factories

DESIGNS = "designs/?band=40m&band=20m"


def get(scene, path: str, role: str = "anonymous", **headers):
    reply = scene.ask(role, "GET", path, **headers)
    assert reply.status_code == 200
    return reply


def keys(scene, path: str = "designs/?order=title&limit=200") -> set[str]:
    return {row["id"] for row in get(scene, path).json()["results"]}


def test_the_second_answer_is_the_first_for_two_queries(scene):
    first = get(scene, DESIGNS)
    with CaptureQueriesContext(connection) as captured:
        second = get(scene, DESIGNS)
    assert second.content == first.content
    # in their order too: nobody learns whether somebody asked before
    assert [(name, value) for name, value in second.headers.items() if name != "RateLimit"] == [
        (name, value) for name, value in first.headers.items() if name != "RateLimit"
    ]
    assert list(second.headers) == list(first.headers)
    assert len(captured) == 2  # counts it; asks whether anything of the catalogue changed
    assert get(scene, DESIGNS, HTTP_ACCEPT="text/csv").content != first.content


def test_members_are_not_answered_with_what_the_public_sees(scene):
    public = get(scene, f"designs/{scene.popular}/?band=40m").json()
    mine = get(scene, f"designs/{scene.popular}/?band=40m", "owner").json()
    assert mine["evidence"][0]["devices"] != public["evidence"][0]["devices"]
    assert get(scene, f"designs/{scene.popular}/?band=40m").json() == public


def test_a_refusal_is_not_kept(scene):
    for _ in range(2):
        assert scene.ask("anonymous", "GET", "designs/nothing/").status_code == 404


def steward(scene):
    return scene.viewers["steward"]


def register(scene) -> None:
    factories.design(scene.viewers["stranger"], turns=77)


def release(scene) -> None:
    for person in range(4):  # from 6 to 10: another range of counts
        owner = factories.member(f"newcomer-{person}")
        device = factories.device(owner, scene.popular, tag=f"N-{person}")
        factories.record(owner, device, factories.choke_s2p(seed=900 + person))
    assert releases.make_release(rng=random.Random(3)).replaced == 1


def benchmark(scene) -> None:
    benchmarks.change_benchmark(
        by=steward(scene),
        kind="common_mode",
        metric="rejection_db",
        value=25.0,
        as_of=date.today(),
        source="A meeting",
    )


def band(scene) -> None:
    row = Allocation.objects.filter(region=2, band="40m", valid_to=None).get()
    band_plan.change_band(
        by=steward(scene),
        band="40m",
        start_hz=row.start_hz,
        stop_hz=row.stop_hz - 1e5,
        valid_from=date.today() - timedelta(days=1),
        source="A gazette",
    )


def conductor(scene) -> None:
    conductors.add_conductor(by=steward(scene), name="Braid 3 mm", outer_mm=3.0, source="A caliper")


def merge(scene) -> None:
    other = factories.design(scene.viewers["stranger"], turns=78)
    get(scene, "designs/?order=title&limit=200")
    merging.merge_designs(by=steward(scene), design=other, into=scene.popular)


@pytest.mark.parametrize(
    ("path", "change"),
    [
        ("designs/?order=title&limit=200", register),
        ("designs/{popular}/evidence/?band=40m", release),
        ("designs/{popular}/curves/", release),
        ("designs/{popular}/evidence/?band=40m", benchmark),
        ("bands/", band),
        ("benchmarks/", benchmark),
        ("conductors/", conductor),
    ],
)
def test_what_changed_is_answered_at_once(scene, path, change):
    path = path.format(popular=scene.popular)
    before = get(scene, path).content
    change(scene)
    assert get(scene, path).content != before


def test_a_merged_design_is_gone_at_once(scene):
    before = keys(scene)
    merge(scene)
    assert keys(scene) == before
    assert Design.objects.exclude(merged_into=None).exists()


def test_a_setting_of_the_group_counts_too(scene):
    before = public_replies.get_catalogue_state()
    group_settings.change_group_setting(by=steward(scene), name="votes_per_contributor", value=2)
    assert public_replies.get_catalogue_state() != before


@pytest.mark.parametrize("rows", [3, 300])
def test_a_row_that_was_written_first_and_is_seen_last_counts_too(db, rows):
    def write(pk: int) -> None:
        AuditEntry.objects.create(pk=pk, actor="Ada", action="design.register", subject="s", detail={})

    first = (AuditEntry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0) + 1000
    for pk in range(first, first + rows):
        if pk != first + rows - 2:
            write(pk)
    before = public_replies.get_catalogue_state()
    assert public_replies.get_catalogue_state() == before
    write(first + rows - 2)  # its transaction began before that of the last row
    assert public_replies.get_catalogue_state() != before


@pytest.mark.django_db
def test_what_is_kept_is_bounded():
    """Somebody who asks for the same short table in ever new words fills no memory."""
    keys = [public_replies.build_key("api", number) for number in range(500)]
    for key in keys:
        public_replies.keep_reply(key, PublicReply(bytes(MOST_BYTES), ()))
    held = [key for key in keys if public_replies.find_reply(key) is not None]
    assert 0 < len(held) <= settings.CACHES["default"]["OPTIONS"]["MAX_ENTRIES"] == 100
    assert len(held) * MOST_BYTES <= 16.5e6
    large = public_replies.build_key("large")
    public_replies.keep_reply(large, PublicReply(bytes(MOST_BYTES + 1), ()))
    assert public_replies.find_reply(large) is None


@pytest.fixture
def kept(monkeypatch) -> list[str]:
    """Keys of the replies that are kept."""
    keys: list[str] = []
    monkeypatch.setattr(public_replies, "keep_reply", lambda key, _reply: keys.append(key))
    return keys


def test_who_has_the_kept_reply_is_told_so(scene):
    tag = get(scene, DESIGNS)["ETag"]
    for _ in range(2):  # also where nothing is kept yet
        reply = scene.ask("anonymous", "GET", DESIGNS, HTTP_IF_NONE_MATCH=tag)
        assert (reply.status_code, reply.content, reply["ETag"]) == (304, b"", tag)
        assert "RateLimit" in reply
        cache.clear()


def test_what_is_kept_has_the_form_that_is_asked_for(scene):
    plain = get(scene, DESIGNS)
    small = Client().get(f"/api/v1/{DESIGNS}", headers={"Accept-Encoding": "gzip"})
    assert gzip.decompress(small.content) == plain.content
    assert small["ETag"] == f'{plain["ETag"][:-1]}:gzip"'
    assert get(scene, DESIGNS).content == plain.content
    whole = Client().get(f"/api/v1/{DESIGNS}", headers={"Accept-Encoding": "gzip;q=0"})
    assert whole.content == plain.content


@pytest.mark.parametrize(
    "headers",
    [
        {"Authorization": "Token wrong"},
        {"Content-Digest": "sha-256=:AAAA:"},
        {"If-Match": '"a"'},
        {"Range": "bytes=0-10"},
    ],
)
def test_only_a_plain_question_of_nobody_is_kept(scene, kept, headers):
    Client().get(f"/api/v1/{DESIGNS}", headers=headers)
    assert kept == []


def test_nobody_comes_with_a_session(scene, kept):
    browser = Client()
    browser.cookies[settings.SESSION_COOKIE_NAME] = "of-somebody"
    assert browser.get(f"/api/v1/{DESIGNS}").status_code == 200
    assert kept == []


def test_a_plain_question_of_nobody_is_kept(scene, kept):
    Client().get(f"/api/v1/{DESIGNS}")
    assert len(kept) == 1


@pytest.mark.parametrize("role", ["owner", "steward"])
def test_nothing_of_whoever_is_signed_in_is_kept_or_found(scene, kept, role):
    get(scene, DESIGNS, role)
    assert kept == []


@override_settings(BENCHNIGHT_ANONYMOUS_PER_MINUTE=2)
def test_kept_replies_count_against_the_limit(scene):
    replies = [scene.ask("anonymous", "GET", DESIGNS) for _ in range(4)]
    assert [reply.status_code for reply in replies] == [200, 200, 429, 429]
    assert [int(reply["RateLimit"].split(";")[1][2:]) for reply in replies] == [1, 0, 0, 0]
