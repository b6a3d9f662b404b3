"""`manage.py pool`: the keeper's acts and a group's, and the plain files of a release."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.core.management import CommandError, call_command

from measurements.models import KeptGroup, PoolCopy, PoolSeat
from measurements.services.pooling import seats, transport
from tests import factories
from tests.services.pooling import loopback
from tests.services.pooling.invented_groups import ADDRESS, build_design, invent_groups

pytestmark = pytest.mark.django_db


def run(capsys, *words: str) -> str:
    """What the command prints."""
    call_command("pool", *words)
    return capsys.readouterr().out.strip()


def test_a_keeper_invites_lists_and_sets_aside(capsys):
    line = run(capsys, "invite", "Harbour club", "--address", ADDRESS)
    assert line.startswith(f"{ADDRESS}#") and "\n" not in line
    assert run(capsys, "groups") == "No group has joined."
    invent_groups(1)
    key = KeptGroup.objects.get().key
    run(capsys, "aside", key[:8], "--reason", "Its jig was broken.")
    assert "set aside: Its jig was broken." in run(capsys, "groups")
    run(capsys, "back", key[:8])
    assert "has not sent yet" in run(capsys, "groups")
    with pytest.raises(CommandError, match="no such group"):
        run(capsys, "back", "ab")


def test_a_release_is_written_as_plain_files(capsys, tmp_path):
    for group in invent_groups(3):
        for worst_db in (25.0, 27.0):
            group.build(build_design(), worst_db)
        group.send()
    said = run(capsys, "release", "--directory", str(tmp_path))
    assert said.startswith("Pooled release 1 of 3 groups: 1 designs changed")
    assert json.loads((tmp_path / "latest.json").read_text()) == {"release": 1}
    described = json.loads((tmp_path / "1" / "datapackage.json").read_text())
    for resource in described["resources"]:
        content = (tmp_path / "1" / resource["path"]).read_bytes()
        assert resource["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"


def test_a_group_joins_sends_fetches_and_leaves(capsys, monkeypatch, settings):
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    monkeypatch.setattr(transport, "post", loopback.post)
    monkeypatch.setattr(transport, "get", loopback.get)
    line = run(capsys, "invite", "Harbour club", "--address", ADDRESS)
    assert run(capsys, "join", line).startswith("Joined.")
    assert run(capsys, "send") == "Sent: 0 new votes, 0 withdrawn, 0 unchanged"
    assert run(capsys, "fetch") == "There is no newer pooled release."
    run(capsys, "release")
    assert run(capsys, "fetch") == "Pooled release 1: 0 designs with a verdict, 0 before"
    assert PoolCopy.objects.get().number == 1
    run(capsys, "leave")
    assert not PoolSeat.objects.get().is_open
    with pytest.raises(CommandError, match="in no pool"):
        run(capsys, "send")


def test_a_release_of_the_group_sends_by_itself(capsys, monkeypatch, settings):
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    monkeypatch.setattr(transport, "post", loopback.post)
    monkeypatch.setattr(transport, "get", loopback.get)
    line = run(capsys, "invite", "Harbour club", "--address", ADDRESS)
    run(capsys, "join", line)
    run(capsys, "release")
    member = factories.member("Open")
    factories.record(member, factories.device(member))
    seats.choose_pool(by=member, takes_part=True)
    call_command("release")
    assert "Sent to the pool: 1 new votes, 0 withdrawn, 0 unchanged" in capsys.readouterr().out
    assert PoolCopy.objects.get().number == 1  # and the newest pooled release is fetched
