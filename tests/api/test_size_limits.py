"""Each limit of size says which one was met and how to stay within it; deploy/LIMITS.md lists them."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

from tests import factories
from tests.api import reply_validation

ANALYSE = {"kind": "common_mode", "calibrated": "true"}
ROW = "1.0 0.5 0.1\n"
HEAD = "# MHz S RI R 50\n"


def refused(scene, path: str, status: int, *said: str, role: str = "anonymous", **options):
    """The problem of a refusal, whose sentence holds each of `said`."""
    reply = scene.ask(role, "POST", path, **options)
    assert reply.status_code == status, reply.content
    problem = reply_validation.problem(reply)
    for words in said:
        assert words in problem["detail"], problem["detail"]
    assert reply["RateLimit"] and reply["RateLimit-Policy"]
    return problem


def sweep(scene, text: str, status: int, *said: str):
    problem = refused(scene, "analyse/", status, *said, form={**ANALYSE, "sweep": text.encode()})
    assert problem["errors"][0]["field"] == "sweep"
    return problem["errors"][0]


def test_a_sweep_file(scene, settings):
    settings.BENCHNIGHT_SWEEP_BYTES = 1024 * 1024
    long = "! " + "x" * 1000 + "\n"
    sweep(scene, long * 1100, 413, "A file may have 1 MiB", "Sweep with fewer points")


def test_points_of_a_sweep(scene, settings):
    settings.BENCHNIGHT_SWEEP_POINTS = 50
    form = {**ANALYSE, "sweep": factories.choke_s2p(points=51)}
    refused(scene, "analyse/", 413, "has 51 points; the limit is 50", "Sweep with fewer points", form=form)
    form["sweep"] = factories.choke_s2p(points=50)
    assert scene.ask("anonymous", "POST", "analyse/", form=form).status_code == 200


def test_what_a_file_may_hold(scene):
    # the form's files are called *.s2p: the version 2 head tells the ports
    ports = "[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] 5\n[Number of Frequencies] 1\n[Network Data]\n"
    sweep(scene, ports + ROW, 400, "at most 4 are taken", "Export only the ports of this test")
    line = sweep(
        scene, HEAD + "! " + "x" * 4095 + "\n" + ROW, 400, "the limit is 4096", "one point in a line"
    )
    assert line["line"] == 2
    number = sweep(
        scene, HEAD + "1." + "0" * 31 + " 0 0 0 0 0 0 0 0\n", 400, "more than 32 characters", "Export"
    )
    assert number["line"] == 2
    sweep(scene, HEAD + "\n" * 400_001, 413, "more than 400000 lines", "Send one sweep")


def test_typed_readings(scene):
    many = [{"frequency_hz": 1e6 + n, "value": 30.0} for n in range(1001)]
    form = {**ANALYSE, "readings": json.dumps(many)}
    refused(scene, "analyse/", 413, "at most 1000", "Send a sweep file instead", form=form)


def test_a_json_body(scene, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
    body = b'{"tag": "' + b"x" * 1_100_000 + b'"}'
    said = ("Without its files a request has up to 1 MiB", "Send less at once")
    refused(scene, "designs/", 413, *said, role="owner", data=body, content_type="application/json")


def test_a_json_body_where_nothing_large_is_meant(scene):
    body = b'{"tag": "' + b"x" * 65_536 + b'"}'
    said = ("takes up to 64 KiB of JSON", "Send less at once")
    refused(scene, "devices/", 413, *said, role="owner", data=body, content_type="application/json")


def test_fields_and_files(scene, settings):
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 5
    settings.DATA_UPLOAD_MAX_NUMBER_FILES = 3
    many = {f"field{number}": "x" for number in range(6)}
    refused(scene, "analyse/", 413, "up to 5 fields", "Send it in parts", form=many)
    files = {f"file{number}": b"x" for number in range(4)}
    refused(scene, "analyse/", 413, "up to 3 files", "Send them in parts", form=files)
    words = scene.ask("anonymous", "GET", "bands/?" + "&".join(many))
    assert (
        words.status_code == 413
        and "up to 5 fields or query words" in reply_validation.problem(words)["detail"]
    )


@pytest.mark.parametrize(
    ("setting", "value", "said"),
    [
        ("INTAKE_ENTRIES", 2, ("A zip may hold 2 files and a manifest", "Send it in parts")),
        ("INTAKE_UNPACKED_BYTES", 1024 * 1024, ("more than 1 MiB", "Send fewer files at once")),
        ("INTAKE_RATIO", 1, ("more than 1 times its own size", "without a zip, or stored")),
    ],
)
def test_a_zip(scene, settings, setting, value, said):
    setattr(settings, f"BENCHNIGHT_{setting}", value)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for number in range(4):
            packed.writestr(f"{number}.s2p", factories.choke_s2p(seed=number, points=3000))
    path = f"nights/{scene.night}/intake/"
    problem = refused(scene, path, 413, *said, role="operator", form={"archive": out.getvalue()})
    assert problem["errors"][0]["field"] == "archive"


def test_all_that_a_member_stores(scene, settings):
    settings.BENCHNIGHT_MEMBER_BYTES = 1024 * 1024
    before = scene.ask("owner", "GET", "tests/").json()["results"]
    form = {**ANALYSE, "device": scene.device, "measured_on": "2026-10-01"}
    for seed in range(900, 940):
        reply = scene.ask("owner", "POST", "tests/", form={**form, "sweep": factories.choke_s2p(seed=seed)})
        if reply.status_code != 201:
            break
    problem = reply_validation.problem(reply)
    assert (reply.status_code, problem["code"]) == (413, "upload.quota")
    assert (
        "stores up to 1 MiB" in problem["detail"] and "Withdraw tests you no longer need" in problem["detail"]
    )
    after = scene.ask("owner", "GET", "tests/").json()["results"]
    assert {row["id"] for row in before} < {row["id"] for row in after}
