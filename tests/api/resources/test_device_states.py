"""The list of devices answers which are overdue, where, and since when, over the API."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.models import Device, DueMark
from measurements.selectors.upkeep import service_states
from measurements.services.devices import due_marks


def devices(scene, who="owner", **words):
    query = "&".join(f"{name}={value}" for name, value in words.items())
    reply = scene.ask(who, "GET", f"devices/?{query}")
    assert reply.status_code == 200, reply.content
    return reply.json()


def test_every_row_has_the_state_that_the_devices_own_address_gives(scene):
    rows = devices(scene, "steward")["results"]
    assert len(rows) == Device.objects.count() > 3
    for row in rows:
        said = scene.ask("steward", "GET", f"devices/{row['id']}/service/").json()
        assert row["state"] == said["state"] and row["due_on"] == said["due_on"]
        assert row["reasons"] == [each["code"] for each in said["reasons"]]
        assert row["reason"] == said["reasons"][0]["message"]
        assert row["next_step"] == said["next_step"]["message"]


def test_one_call_answers_what_is_overdue(scene, monkeypatch):
    later = date(2031, 1, 1)
    monkeypatch.setattr(service_states, "get_today", lambda: later)
    every = devices(scene, "steward")["results"]
    overdue = devices(scene, "steward", state="overdue")
    assert {row["id"] for row in overdue["results"]} == {
        row["id"] for row in every if row["state"] == "overdue"
    }
    assert overdue["total"] == len(overdue["results"])
    due = devices(scene, "steward", due_before="2031-01-01")["results"]
    assert {row["id"] for row in due} == {
        row["id"] for row in every if row["due_on"] and row["due_on"] < "2031-01-01"
    }


def test_a_mark_is_in_the_next_reply(scene):
    steward = scene.viewers["steward"]
    due_marks.mark_devices_due(by=steward, devices_marked=[scene.device], event="storm")
    (row,) = [row for row in devices(scene)["results"] if row["id"] == scene.device]
    assert "marked_due" in row["reasons"] and DueMark.objects.exists()


def test_filters(scene):
    Device.objects.filter(key=scene.device).update(place="Hill site")
    row = devices(scene, place="Hill site")["results"][0]
    name = scene.viewers["owner"].name
    assert row["id"] == scene.device
    assert devices(scene, place="Hill")["total"] == 0 == devices(scene, owner="guest:nobody")["total"]
    assert devices(scene, owner=f"member:{name}")["total"] == devices(scene)["total"]
    Device.objects.filter(key=scene.device).update(retired_on=date(2026, 1, 1))
    kept = devices(scene)["total"]
    assert devices(scene, in_service="true")["total"] == kept - 1


@pytest.mark.parametrize(
    ("words", "field"),
    [
        ("state=lost", "state"),
        ("owner=me", "owner"),
        ("stat=overdue", "stat"),
        ("due_before=May", "due_before"),
    ],
)
def test_misspelt_words_are_refused_by_name(scene, words, field):
    reply = scene.ask("owner", "GET", f"devices/?{words}")
    assert reply.status_code == 400 and reply.json()["errors"][0]["field"] == field


def test_the_table_has_the_columns(scene):
    reply = scene.ask("owner", "GET", "devices/?format=csv&state=untested")
    header = b"".join(reply).decode().splitlines()[0].split(",")
    assert {"state", "reasons", "due_on"} <= set(header)


def test_nobody_reads_the_state_of_another_members_device(scene):
    ids = {row["id"] for row in devices(scene, "stranger")["results"]}
    assert scene.device not in ids and not devices(scene, "stranger", state="untested", q="a")["total"]
