"""The drill: values planted at a group are looked for at the keeper, at another group and in releases.

What each of them, and any two together, can learn is stated in deploy/THREATS.md. What sums and differences
give away is counted in `tests/disclosure/test_pool_drill.py`.
"""

from __future__ import annotations

import base64
import gzip
import json

import pytest
from django.apps import apps

from measurements.models import Device, KeptReleaseFile, Member, SentVote, Test
from measurements.services.pooling import keeper_groups, seats, sendings
from measurements.services.pooling.keeper_releases import make_pooled_release
from tests import factories
from tests.services.pooling import loopback
from tests.services.pooling.invented_groups import ADDRESS, build_design, invent_groups

pytestmark = pytest.mark.django_db

KEPT = [
    model for model in apps.get_app_config("measurements").get_models() if model.__name__.startswith("Kept")
]


@pytest.fixture
def planted(settings):
    """A group with planted names, tags, notes, places, files and days, which sends to the keeper here."""
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    line = str(keeper_groups.invite_group(by=None, address=ADDRESS, name="Harbour club"))
    seats.join_pool(by=None, invitation=line, post=loopback.post)
    for n in range(2):
        member = factories.member(f"PLANTED-NAME-{n}")
        seats.choose_pool(by=member, takes_part=True)
        for turns in (11, 12):
            device = factories.device(
                member, factories.design(member, turns=turns), tag=f"PLANTED-TAG-{turns}"
            )
            sweep = factories.choke_s2p(3000.0 + 40 * n, seed=20 * n + turns, comment="PLANTED-COMMENT")
            factories.record(member, device, sweep, name=f"PLANTED-FILE-{n}.s2p")
    Device.objects.update(notes="PLANTED-NOTE", place="PLANTED-PLACE")
    sendings.send_votes(post=loopback.post)
    groups = invent_groups(4)
    for group in groups:
        for turns in (11, 12):
            group.build(build_design(turns), 31.4)
            group.build(build_design(turns), 25.0)
        group.send()
    make_pooled_release()
    return groups


def list_home_secrets() -> list[str]:
    """All that only the group knows of its votes."""
    keys = [*Test.objects.values_list("key", flat=True), *Device.objects.values_list("key", flat=True)]
    people = Device.objects.values_list("contributor__key", flat=True)
    names = Member.objects.values_list("name", flat=True)
    days = {day.isoformat() for day in Test.objects.values_list("measured_on", flat=True)}
    return ["PLANTED", *keys, *people, *names, *days]


def read_keeper() -> str:
    """Every row of every table that a keeper has."""
    return json.dumps([list(map(str, row.values())) for model in KEPT for row in model.objects.values()])


def test_the_keeper_has_no_name_key_day_or_file_of_a_group(planted):
    told = read_keeper()
    assert SentVote.objects.first().vote in told  # the search finds what is there
    assert [secret for secret in list_home_secrets() if secret in told] == []


def test_the_keeper_cannot_link_a_person_over_two_designs(planted):
    """Each person built both designs here: no pseudonym of one design is in the other."""
    rows = list(SentVote.objects.values_list("contributor_key", "design_id", "person", "device", "vote"))
    assert len({who for who, *_ in rows}) == 2 and len(rows) == 4
    for who, design, *names in rows:
        others = {each for w, d, *more in rows if (w, d) != (who, design) for each in more}
        assert not others & set(names)


def test_readers_get_no_pseudonym_no_group_and_no_single_figure(planted):
    published = b"".join(bytes(file.content) for file in KeptReleaseFile.objects.all()).decode()
    pseudonyms = [name for row in SentVote.objects.values_list("person", "device", "vote") for name in row]
    theirs = [vote[name] for group in planted for vote in group.votes for name in ("person", "vote")]
    wanted = [*list_home_secrets(), *pseudonyms, *theirs, "Harbour club", "Club 1", "31.4"]
    assert "typically_meets" in published
    assert [each for each in wanted if each in published] == []


def test_another_group_learns_counts_of_its_own_and_its_own_offsets(planted):
    reply = planted[0].send()
    assert set(reply) == {
        "form", "number", "content_sha256", "new", "withdrawn", "unchanged", "standing",
    }  # fmt: skip
    assert set(reply["standing"]) == {"release", "set_aside", "offsets"}
    told = json.dumps(reply)
    assert [each for each in [*list_home_secrets(), "Harbour club", "Club 1"] if each in told] == []


def test_what_was_sent_holds_the_keepers_key_and_no_other_servers(planted):
    (sealed,) = [body for address, body in loopback.posted if "sendings" in address][-1:]
    content = json.loads(gzip.decompress(base64.b64decode(json.loads(sealed)["content"])))
    assert set(content) == {"form", "keeper", "number", "release", "rows", "designs", "votes", "sets"}
    assert [secret for secret in list_home_secrets() if secret in json.dumps(content)] == []
