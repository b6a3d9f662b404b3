"""What a reply carries beside its content: tag, digest, coding, links; and 304 where nothing changed."""

from __future__ import annotations

import base64
import gzip
import hashlib
import re

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from api import urls
from api.http import representation
from tests import factories
from tests.api.scene import BASE

READ = [
    "",
    "bands/",
    "designs/?limit=1",
    "evidence/",
    "releases/",
    "schema/",
    "devices/?format=csv",
    "tests/",
]


def digest_of(content: bytes) -> str:
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


class TestTags:
    @pytest.mark.parametrize("path", READ)
    def test_the_same_again_is_not_sent_again(self, scene, path):
        first = scene.ask("owner", "GET", path)
        again = scene.ask("owner", "GET", path, headers={"If-None-Match": first["ETag"]})
        assert first.status_code == 200 and re.fullmatch(r'"[!#-~]+"', first["ETag"])
        assert (again.status_code, again.content) == (304, b"")
        assert again["ETag"] == first["ETag"] and "Content-Type" not in again
        assert {"Accept", "Accept-Encoding", "Authorization"} <= set(again["Vary"].split(", "))

    @pytest.mark.parametrize("given", ["*", "W/{tag}", '"x", {tag}'])
    def test_ways_to_name_it(self, scene, given):
        tag = scene.ask("owner", "GET", "bands/")["ETag"]
        headers = {"If-None-Match": given.replace("{tag}", tag)}
        assert scene.ask("owner", "GET", "bands/", headers=headers).status_code == 304
        assert scene.ask("owner", "HEAD", "bands/", headers=headers).status_code == 304

    def test_another_form_has_another_tag(self, scene):
        tags = {
            scene.ask("owner", "GET", f"bands/?format={form}")["ETag"] for form in ("json", "csv", "ndjson")
        }
        assert len(tags) == 3

    def test_a_device_has_a_new_one_with_each_test_although_its_version_stays(self, scene):
        path = f"devices/{scene.device}/"
        before = scene.ask("owner", "GET", path)["ETag"]
        factories.record(scene.viewers["owner"], scene.device, factories.choke_s2p(2000, seed=3))
        reply = scene.ask("owner", "GET", path, headers={"If-None-Match": before})
        assert reply.status_code == 200 and reply["ETag"] != before
        assert reply["ETag"].split(":")[0] == before.split(":")[0]
        change = {"json": {"notes": "x"}, "headers": {"If-Match": before}}
        assert scene.ask("owner", "PATCH", path, **change).status_code == 200  # nobody changed the device

    def test_an_error_and_a_write_without_a_version_have_none(self, scene):
        assert "ETag" not in scene.ask("owner", "GET", "designs/nosuchthing0/")
        form = {"kind": "common_mode", "sweep": factories.choke_s2p()}
        assert "ETag" not in scene.ask("anonymous", "POST", "analyse/", form=form)


class TestStreams:
    """The evidence as a table: its tag is known before its first row."""

    @pytest.mark.parametrize("role", ["anonymous", "owner"])
    @pytest.mark.parametrize("form", ["csv", "ndjson"])
    def test_304_without_a_row_being_read(self, scene, role, form):
        first = scene.ask(role, "GET", f"evidence/?format={form}")
        headers = {"If-None-Match": first["ETag"]}
        again = scene.ask(role, "GET", f"evidence/?format={form}", headers=headers)
        assert (again.status_code, again.content) == (304, b"")
        assert "Content-Digest" not in first

    def test_each_circle_form_and_design_has_its_own(self, scene):
        tags = [
            scene.ask(role, "GET", f"evidence/?format={form}{only}")["ETag"]
            for role in ("anonymous", "owner")
            for form in ("csv", "ndjson")
            for only in ("", f"&design={scene.popular}")
        ]
        assert len(set(tags)) == len(tags)
        assert scene.ask("stranger", "GET", "evidence/?format=csv")["ETag"] == tags[4]  # one circle, one tag

    def test_a_new_design_changes_what_the_public_sees(self, scene):
        before = scene.ask("anonymous", "GET", "evidence/?format=ndjson")["ETag"]
        factories.design(scene.viewers["owner"], turns=31)
        assert scene.ask("anonymous", "GET", "evidence/?format=ndjson")["ETag"] != before

    def test_a_new_benchmark_too(self, scene):
        from measurements.models import Benchmark

        before = scene.ask("anonymous", "GET", "evidence/?format=csv")["ETag"]
        Benchmark.objects.filter(metric="rejection_db").update(value=30.0)
        assert scene.ask("anonymous", "GET", "evidence/?format=csv")["ETag"] != before


class TestDigest:
    @pytest.mark.parametrize(
        "path", ["bands/", "designs/?format=csv", "schema/", "releases/1/files/LICENCE.txt/"]
    )
    def test_is_of_the_bytes_that_were_sent(self, scene, path):
        reply = scene.ask("owner", "GET", path)
        assert reply["Content-Digest"] == digest_of(reply.content)
        squeezed = scene.ask_unchecked("owner", "GET", path, headers={"Accept-Encoding": "gzip"})
        assert squeezed["Content-Digest"] == digest_of(squeezed.getvalue())


class TestGzip:
    def ask(self, scene, path, accepted="gzip", role="owner", **options):
        options["headers"] = {"Accept-Encoding": accepted, **options.get("headers", {})}
        return scene.ask_unchecked(role, options.pop("method", "GET"), path, **options)

    @pytest.mark.parametrize(
        "path", ["schema/", "designs/?format=csv", "evidence/?format=csv", "evidence/?format=ndjson"]
    )
    def test_the_same_content_in_fewer_bytes_under_another_tag(self, scene, path):
        plain, squeezed = scene.ask("owner", "GET", path), self.ask(scene, path)
        assert squeezed["Content-Encoding"] == "gzip" and "Content-Encoding" not in plain
        sent = squeezed.getvalue()
        assert gzip.decompress(sent) == plain.getvalue() and len(sent) < len(plain.getvalue())
        assert squeezed["ETag"] == f'{plain["ETag"][:-1]}:gzip"'
        assert "Accept-Encoding" in plain["Vary"]

    def test_each_coding_knows_its_own_tag_only(self, scene):
        tag = self.ask(scene, "schema/")["ETag"]
        assert self.ask(scene, "schema/", headers={"If-None-Match": tag}).status_code == 304
        assert scene.ask("owner", "GET", "schema/", headers={"If-None-Match": tag}).status_code == 200

    def test_the_same_bytes_each_time(self, scene):
        assert self.ask(scene, "schema/").content == self.ask(scene, "schema/").content

    def test_what_is_short_a_file_or_a_picture_is_left_alone(self, scene):
        for path in (
            "nowhere/",
            f"tests/{scene.test}/sweeps/sweep/",
            f"designs/{scene.popular}/chart/?format=png",
        ):
            assert "Content-Encoding" not in self.ask(scene, path)

    def test_never_for_the_sign_in_of_a_browser(self, scene):
        """Who makes a browser ask could measure the length of what it reads."""
        client = Client(headers={"Accept-Encoding": "gzip"})
        client.force_login(get_user_model().objects.get(pk=scene.viewers["owner"].member_id))
        reply = client.get(f"{BASE}tests/")
        assert reply.status_code == 200 and "Content-Encoding" not in reply
        assert reply["Cache-Control"] == "private, no-store"

    @pytest.mark.parametrize(
        ("header", "taken"),
        [
            ("gzip", True),
            ("br, GZIP;q=0.5", True),
            ("*", True),
            ("gzip;q=0", False),
            ("*;q=0", False),
            ("identity, gzip;q=0.000, *", False),
            ("", False),
            ("gzip;q=x", False),
            ("br", False),
        ],
    )
    def test_what_a_client_accepts(self, header, taken):
        assert representation.accepts_gzip(header) is taken


class TestCaches:
    def test_what_is_somebodys_is_kept_nowhere(self, scene):
        for path in ("devices/", f"tests/{scene.test}/", f"tests/{scene.test}/sweeps/sweep/"):
            assert scene.ask("owner", "GET", path)["Cache-Control"] == "private, no-store"

    def test_the_rest_is_asked_for_each_time(self, scene):
        for path in ("bands/", "designs/", "evidence/?format=csv"):
            assert scene.ask("anonymous", "GET", path)["Cache-Control"] == "private, no-cache"


class TestLinks:
    def test_first_and_next(self, scene):
        factories.design(scene.viewers["owner"], turns=41)
        reply = scene.ask("anonymous", "GET", "designs/?limit=1&order=title")
        first, following = reply["Link"].split(", ")
        assert first == f'<http://testserver{BASE}designs/?limit=1&order=title>; rel="first"'
        assert following == f'<{reply.json()["next"]}>; rel="next"'
        second = scene.ask("anonymous", "GET", reply.json()["next"].removeprefix("http://testserver"))
        assert second["Link"].split(", ")[0] == first

    def test_a_list_of_one_page_has_no_next(self, scene):
        assert 'rel="next"' not in scene.ask("owner", "GET", "devices/")["Link"]
        assert "Link" not in scene.ask("owner", "GET", "bands/")


def tables() -> list[str]:
    """Every address that has tables, by its name."""
    from api.http.renderers import Csv, Ndjson

    return [
        pattern.name
        for pattern in urls.urlpatterns
        if {Csv, Ndjson} <= set(getattr(pattern.callback.cls, "renderer_classes", ()))
    ]
