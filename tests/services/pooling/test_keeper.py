"""The server that keeps a pool: who is admitted, what is taken once, and what a pooled release publishes."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from measurements.errors import BenchnightError
from measurements.models import (
    KeptGroup,
    KeptInvitation,
    KeptOffset,
    KeptRecord,
    KeptRelease,
    KeptReleaseFile,
    KeptState,
)
from measurements.services.bundles import signing
from measurements.services.pooling import keeper_groups, keeper_sendings
from measurements.services.pooling.keeper_releases import make_pooled_release
from tests import factories
from tests.services.pooling.invented_groups import (
    ADDRESS,
    BANDS,
    InventedGroup,
    build_design,
    invent_groups,
    seal,
)

pytestmark = pytest.mark.django_db


@contextmanager
def refuse(code: str) -> Iterator[None]:
    """Expect a refusal of this code."""
    with pytest.raises(BenchnightError) as caught:
        yield
    assert caught.value.code == code, caught.value.detail


# Joining.


def test_a_code_admits_one_group_once():
    made = keeper_groups.invite_group(by=None, address=ADDRESS, name="Club")
    content = {"form": 1, "keeper": made.key, "code": made.code, "name": "Club"}
    first, second = Ed25519PrivateKey.generate(), Ed25519PrivateKey.generate()
    keeper_groups.answer_group(seal(first, content, "join"))
    keeper_groups.answer_group(seal(first, content, "join"))  # the reply was lost: it asks again
    with refuse("pool.code"):
        keeper_groups.answer_group(seal(second, content, "join"))
    assert KeptGroup.objects.count() == 1


def test_a_wrong_or_old_code_admits_nobody():
    made = keeper_groups.invite_group(by=None, address=ADDRESS, name="Club")
    content = {"form": 1, "keeper": made.key, "code": "2" * 24, "name": "Club"}
    with refuse("pool.code"):
        keeper_groups.answer_group(seal(Ed25519PrivateKey.generate(), content, "join"))
    old = KeptInvitation.objects.get()
    KeptInvitation.objects.update(expires_at=old.made_at - timedelta(seconds=1))
    with refuse("pool.code"):
        keeper_groups.answer_group(seal(Ed25519PrivateKey.generate(), {**content, "code": made.code}, "join"))
    assert not KeptGroup.objects.exists()


def test_the_code_is_stored_as_a_hash_alone():
    made = keeper_groups.invite_group(by=None, address=ADDRESS, name="Club")
    assert made.code not in str(KeptInvitation.objects.values().get())


@pytest.mark.parametrize("purpose", ["sending", "reply", "release"])
def test_what_was_signed_for_another_purpose_admits_nobody(purpose):
    made = keeper_groups.invite_group(by=None, address=ADDRESS, name="Club")
    content = {"form": 1, "keeper": made.key, "code": made.code, "name": "Club"}
    with refuse("pool.signature"):
        keeper_groups.answer_group(seal(Ed25519PrivateKey.generate(), content, purpose))


# Sendings.


def test_a_sending_is_taken_once_and_a_missing_vote_is_withdrawn():
    (group,) = invent_groups(1)
    design = build_design()
    for worst_db in (24.0, 26.0, 28.0):
        group.build(design, worst_db)
    first = group.send()
    assert (first["new"], first["withdrawn"], first["unchanged"]) == (3, 0, 0)
    again = group.send(number=1)
    assert (again["number"], again["new"], again["withdrawn"], again["unchanged"]) == (1, 0, 0, 3)
    gone = group.votes.pop()
    second = group.send()
    assert (second["number"], second["new"], second["withdrawn"], second["unchanged"]) == (2, 0, 1, 2)
    left = KeptRecord.objects.get(vote=gone["vote"])
    assert left.withdrawn and left.bands == {} and bytes(left.curve) == b""


def test_an_older_sending_does_not_bring_a_withdrawn_vote_back():
    (group,) = invent_groups(1)
    group.build(build_design(), 24.0)
    old = seal(group.key, group.build_content(), "sending")
    keeper_sendings.take_sending(old)
    group.number, group.votes = 1, []
    group.send()
    with refuse("pool.older"):
        keeper_sendings.take_sending(old)
    assert not KeptRecord.objects.filter(withdrawn=False).exists()


def test_only_groups_of_the_pool_are_heard():
    stranger = InventedGroup("Stranger", invent_groups(1)[0].rng)
    stranger.build(build_design(), 24.0)
    with refuse("pool.unknown_group"):
        stranger.send()
    assert not KeptRecord.objects.exists()


def test_a_sending_for_another_keeper_is_refused():
    (group,) = invent_groups(1)
    with refuse("pool.other_keeper"):
        group.send(keeper="0" * 64)


def test_a_changed_sending_is_refused():
    (group,) = invent_groups(1)
    group.build(build_design(), 24.0)
    sealed = json.loads(seal(group.key, group.build_content(), "sending"))
    other = json.loads(seal(Ed25519PrivateKey.generate(), group.build_content(number=9), "sending"))
    for changed in (
        {**sealed, "content": other["content"]},
        {**sealed, "key": other["key"]},
        {**sealed, "signature": "00" * 64},
    ):
        with refuse("pool.signature"):
            keeper_sendings.take_sending(json.dumps(changed).encode())
    for broken in (b"", b"{}", b"[1]", b"\xff", json.dumps({**sealed, "content": "?"}).encode()):
        with refuse("pool.envelope"):
            keeper_sendings.take_sending(broken)


def test_a_sending_that_unpacks_without_end_is_refused(monkeypatch):
    monkeypatch.setattr("measurements.services.pooling.envelopes.MOST_BYTES", 10_000)
    (group,) = invent_groups(1)
    with refuse("pool.envelope"):
        keeper_sendings.take_sending(seal(group.key, {"form": 1, "filling": "0" * 100_000}, "sending"))


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"person": "Gwenna"}, "pool.sending"),
        ({"night": "May bench"}, "pool.sending"),
        ({"bands": {"40m": float(10**9)}}, "pool.record"),
        ({"bands": {}}, "pool.sending"),
        ({"u": 0.37}, "pool.sending"),
        ({"curve": "AAAA"}, "pool.record"),
        ({"quarter": "2026-11-29"}, "pool.sending"),
        ({"kind": "balance"}, "pool.sending"),
        ({"recipe_sha256": "0" * 64}, "pool.recipe"),
        ({"vote": "0" * 32}, "pool.record"),
    ],
)
def test_a_record_that_is_not_as_described_is_refused_with_the_whole_sending(change, code):
    (group,) = invent_groups(1)
    group.build(build_design(), 24.0)
    group.votes[0].update(change)
    with refuse(code):
        group.send()
    assert not KeptRecord.objects.exists()


def test_a_recipe_with_a_free_text_is_refused():
    (group,) = invent_groups(1)
    design = build_design()
    group.build(design, 24.0)
    design["recipe"] = {**design["recipe"], "note": "built by Gwenna"}
    with refuse("pool.recipe"):
        group.send()


def test_a_person_with_eleven_devices_of_one_design_is_refused():
    (group,) = invent_groups(1)
    for _ in range(11):
        group.build(build_design(), 24.0, person="ab" * 16)
    with refuse("pool.record"):
        group.send()


# Releases.


def fill(groups, design, people: int = 2, worst_db: float = 26.0) -> None:
    for group in groups:
        for n in range(people):
            group.build(design, worst_db + 0.4 * n)


def read_table(name: str) -> list[dict[str, str]]:
    newest = KeptReleaseFile.objects.filter(name=name).order_by("-release").first()
    return list(csv.DictReader(io.StringIO(bytes(newest.content).decode())))


def test_three_groups_have_a_verdict_where_none_has_alone():
    groups = invent_groups(4)
    fill(groups, build_design(), people=2)
    for group in groups:
        group.send()
    made = make_pooled_release()
    assert (made.number, made.groups, made.replaced) == (1, 4, 1)
    rows = read_table("evidence.csv")
    assert {row["band"] for row in rows} == set(BANDS)
    assert {row["groups"] for row in rows} == {"4"} and {row["contributors"] for row in rows} == {"5-9"}
    assert {row["verdict"] for row in rows} == {"typically_meets"}
    assert {row["median"] for row in rows} == {"26.0"}
    assert {row["p10"] for row in rows} == {""}  # detail begins at ten persons
    curve = read_table("curves.csv")
    assert {row["median"] for row in curve} == {"25.0"} and len(curve) == 97


def test_two_groups_have_none_and_four_people_are_not_shown_to_everybody():
    groups = invent_groups(4)
    fill(groups[:2], build_design(turns=10), people=5)
    fill(groups, build_design(turns=11), people=1)
    for group in groups:
        group.send()
    made = make_pooled_release()
    assert (made.replaced, made.waiting) == (1, 1)
    assert read_table("evidence.csv") == []


def test_the_files_carry_their_hashes_under_the_keepers_signature():
    groups = invent_groups(5)
    fill(groups, build_design())
    for group in groups:
        group.send()
    make_pooled_release()
    files = {file.name: bytes(file.content) for file in KeptReleaseFile.objects.all()}
    keeper = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signing.get_public_key()))
    manifest = files["datapackage.json"]
    signature = bytes.fromhex(files["datapackage.sig"].decode().strip())
    keeper.verify(signature, b"benchnight pool release 1\n" + manifest)
    described = json.loads(manifest)
    assert described["version"] == "1"
    # Data Package, version 2: path, bytes and hash of a resource; a table's fields in order
    for resource in described["resources"]:
        content = files[resource["path"]]
        assert resource["bytes"] == len(content)
        assert resource["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"
        header = content.decode().splitlines()[0].split(",")
        assert header == [field["name"] for field in resource["schema"]["fields"]]


def test_nothing_changes_for_a_newcomer_and_much_for_three_of_three_groups():
    groups = invent_groups(3)
    design = build_design()
    fill(groups, design, people=2, worst_db=22.0)
    for group in groups:
        group.send()
    make_pooled_release()
    before = read_table("evidence.csv")
    groups[0].build(design, 40.0)
    groups[0].send()
    assert make_pooled_release().kept == 1
    assert read_table("evidence.csv") == before
    for group in groups[1:]:
        group.build(design, 40.0)
        group.send()
    assert make_pooled_release().replaced == 1
    assert read_table("evidence.csv") != before


def test_a_withdrawn_vote_stays_published_until_others_join_and_is_in_nothing_new():
    groups = invent_groups(4)
    design = build_design()
    fill(groups, design)
    for group in groups:
        group.send()
    make_pooled_release()
    gone = groups[0].votes.pop()
    groups[0].send()
    assert make_pooled_release().kept == 1
    for group in groups:
        group.build(design, 25.0)
        group.send()
    make_pooled_release()
    newest = KeptState.objects.get(last_release=None)
    assert gone["vote"] not in json.dumps(newest.votes)


def test_a_group_set_aside_is_in_no_release_from_the_next_on():
    groups = invent_groups(5)
    fill(groups, build_design())
    for group in groups:
        group.send()
    make_pooled_release()
    aside = KeptGroup.objects.first()
    steward = factories.member("Stew", "steward")
    keeper_groups.set_group_aside(by=steward, key=aside.key, reason="Its jig was broken for a year.")
    assert make_pooled_release().withheld == 1
    assert read_table("evidence.csv") == []
    assert groups[0].send()["standing"]["set_aside"] is True
    keeper_groups.take_group_back(by=steward, key=aside.key)
    assert make_pooled_release().replaced == 1
    assert {row["groups"] for row in read_table("evidence.csv")} == {"5"}


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_invite_and_set_aside(role):
    by = factories.member("Mem", role)
    with refuse("account.stewards_only"):
        keeper_groups.invite_group(by=by, address=ADDRESS, name="Club")
    with refuse("account.stewards_only"):
        keeper_groups.set_group_aside(by=by, key="0" * 64, reason="no reason at all")
    with refuse("account.stewards_only"):
        make_pooled_release(by=by)


def test_a_group_that_leaves_is_handled_as_persons_who_leave():
    groups = invent_groups(4)
    fill(groups, build_design())
    for group in groups:
        group.send()
    make_pooled_release()
    groups[3].leave()
    assert not KeptRecord.objects.filter(group__name="Club 3", withdrawn=False).exists()
    with refuse("pool.unknown_group"):
        groups[3].send()
    assert make_pooled_release().kept == 1
    # it comes back, under the same key, and goes on counting
    groups[3].join()
    assert groups[3].send()["new"] == 2


def test_a_group_that_published_alone_takes_part_with_that_set_alone():
    groups = invent_groups(5)
    design = build_design()
    fill(groups, design, people=3)
    groups[0].publish_alone(groups[0].votes)
    groups[0].build(design, 24.0)
    for group in groups:
        group.send()
    make_pooled_release()
    assert {row["groups"] for row in read_table("evidence.csv")} == {"4"}
    groups[0].votes.pop()
    for group in groups:
        group.send()
    groups[1].votes, old = groups[1].votes[:0], groups[1].votes
    groups[1].votes = old
    for group in groups[2:]:
        group.build(design, 24.0)
        group.send()
    assert make_pooled_release().replaced == 1
    assert {row["groups"] for row in read_table("evidence.csv")} == {"5"}


def test_a_release_that_fails_its_audit_leaves_nothing(monkeypatch):
    from measurements.disclosure import pooled_rule

    groups = invent_groups(3)
    fill(groups, build_design())
    for group in groups:
        group.send()

    def weigh_unlike(persons):
        return {group: float(count * n) for n, (group, count) in enumerate(persons.items(), 1)}

    monkeypatch.setattr(pooled_rule, "weigh_groups", weigh_unlike)
    with refuse("pool.audit"):
        make_pooled_release()
    assert not KeptRelease.objects.exists() and not KeptState.objects.exists()


def test_offsets_are_told_to_the_group_alone():
    groups = invent_groups(6)
    rng = groups[0].rng
    recipes = [build_design(turns=n) for n in range(6, 30)]
    for design in recipes:
        middle = rng.uniform(22, 35)
        for number, group in enumerate(groups):
            off = {band: 3.0 if number == 2 and band == "10m" else 0.0 for band in BANDS}
            for _ in range(2):
                noise = rng.normal(0, 1.0)
                group.build(design, {band: middle + noise + off[band] for band in BANDS})
    for group in groups:
        group.send()
    make_pooled_release()
    standing = {group.name: group.send()["standing"]["offsets"] for group in groups}
    certain = {name: [row for row in rows if row["certain"]] for name, rows in standing.items()}
    assert [row["band"] for row in certain.pop("Club 2")] == ["10m"]
    assert not any(certain.values())
    named = next(row for row in standing["Club 2"] if row["band"] == "10m")
    assert named["low"] <= 3.0 <= named["high"] and named["offset"] == pytest.approx(3.0, abs=0.5)
    # nothing of it in what everybody reads
    assert KeptOffset.objects.filter(certain=True).count() == 1
    for file in KeptReleaseFile.objects.all():
        assert b"offset" not in bytes(file.content)
