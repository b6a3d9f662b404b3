"""The files of a release through the door: who gets which, with what headers."""

from __future__ import annotations

import base64
import hashlib

import pytest

from tests.api.scene import ROLES

TABLES = ("evidence.csv", "evidence.ndjson")


def of(scene, name: str) -> str:
    return f"releases/{scene.release}/files/{name}/"


@pytest.mark.parametrize("name", TABLES)
@pytest.mark.parametrize("role", ROLES)
def test_everybody_has_the_tables_of_the_own_circle(scene, name, role):
    assert scene.ask(role, "GET", of(scene, name)).status_code == 200


@pytest.mark.parametrize("role", ["anonymous", "stranger"])
def test_every_listed_file_is_there_with_its_digest(scene, role):
    files = scene.ask(role, "GET", f"releases/{scene.release}/").json()["files"]
    assert len(files) == 7
    (listed,) = scene.ask(role, "GET", "releases/").json()["results"]
    assert listed["files"] == files
    for file in files:
        reply = scene.ask(role, "GET", file["address"].removeprefix("http://testserver"))
        digest = hashlib.sha256(reply.content)
        assert (len(reply.content), digest.hexdigest()) == (file["size"], file["sha256"])
        assert reply["Content-Digest"] == f"sha-256=:{base64.b64encode(digest.digest()).decode()}:"
        assert reply["ETag"] == f'"{file["sha256"]}"'
        assert reply["Content-Disposition"] == f'attachment; filename="{file["name"]}"'
        assert reply["X-Content-Type-Options"] == "nosniff"
        assert reply["Cache-Control"] == "private, no-cache"


@pytest.mark.parametrize("role", ["anonymous", "stranger"])
def test_the_table_is_the_one_that_evidence_streams(scene, role):
    reply = scene.ask(role, "GET", of(scene, "evidence.csv"))
    assert reply.content == scene.ask(role, "GET", "evidence/?format=csv").content


def test_the_public_learns_nothing_of_the_files_of_members(scene):
    shown = scene.ask("anonymous", "GET", of(scene, "manifest.json")).content.decode()
    shown += scene.ask("anonymous", "GET", "releases/").content.decode()
    theirs = scene.ask("stranger", "GET", f"releases/{scene.release}/").json()["files"]
    assert not [file for file in theirs if file["circle"] == "members" and file["sha256"] in shown]


@pytest.mark.parametrize("path", ["releases/99/files/evidence.csv/", "releases/{}/files/nothing.csv/"])
@pytest.mark.parametrize("role", ["anonymous", "stranger"])
def test_what_is_not_there(scene, role, path):
    assert scene.ask(role, "GET", path.format(scene.release)).status_code == 404
