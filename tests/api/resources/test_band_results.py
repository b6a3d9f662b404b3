"""A member's own results by band as one table: the same figures as the tests, nobody else's."""

from __future__ import annotations

import csv
import io
import json

from tests import factories


def read_csv(scene, role: str = "owner", more: str = "") -> list[dict[str, str]]:
    reply = scene.ask(role, "GET", f"band-results/?format=csv{more}")
    assert reply.status_code == 200
    text = b"".join(reply.streaming_content) if reply.streaming else reply.content
    return list(csv.DictReader(io.StringIO(text.decode(), newline=""), strict=True))


def test_each_row_is_a_band_of_a_test_with_its_figures(scene):
    rows = read_csv(scene)
    tests = {test["id"]: test for test in scene.ask("owner", "GET", "tests/").json()["results"]}
    assert {row["test"] for row in rows} == {key for key, test in tests.items() if test["result"]["bands"]}
    assert len(rows) == sum(len(test["result"]["bands"]) for test in tests.values())
    for row in rows:
        test = tests[row["test"]]
        (band,) = [each for each in test["result"]["bands"] if each["band"] == row["band"]]
        assert (row["device_tag"], row["kind"], row["measured_on"]) == (
            test["device_tag"],
            test["kind"],
            test["measured_on"],
        )
        assert row["decision"] == band["decision"] and row["evidence"] == test["evidence"]
        for part in ("worst", "worst_hz", "centre", "best"):
            expected = (band.get("rejection_db") or {}).get(part)
            assert row[f"rejection_db.{part}"] == ("" if expected is None else str(expected))
        assert row["swr.worst"] == ""
    assert sum(bool(row["rejection_db.worst"]) for row in rows) >= 5


def test_every_kind_finds_its_metric(scene):
    owner = factories.member("Ada")
    device = factories.device(owner, scene.popular, tag="match")
    test = factories.record(owner, device, factories.choke_s2p(seed=3), kind="load_match")
    rows = [row for row in read_csv(scene, more=f"&device={device}") if row["test"] == test]
    judged = [row for row in rows if row["coverage"] == "full"]
    assert judged and all(float(row["swr.worst"]) >= 1 for row in judged)
    assert {row["rejection_db.worst"] for row in rows} == {""}


def test_the_three_forms_are_one_table(scene):
    lines = scene.ask("owner", "GET", "band-results/?format=ndjson").content.decode().splitlines()
    pages, address = [], "band-results/?limit=1"
    while address:
        page = scene.ask("owner", "GET", address).json()
        pages += page["results"]
        address = page["next"] and page["next"].split("/api/v1/")[1]
    assert [json.loads(line) for line in lines] == pages
    assert [row["test"] for row in read_csv(scene)] == [row["test"] for row in pages]


def test_it_holds_own_results_alone(scene):
    """An operator reads tests of own nights and a steward all, but a table of own results is of own ones."""
    own = {row["device"] for row in read_csv(scene)}
    assert scene.device in own
    for role in ("stranger", "operator", "steward"):
        assert not own & {row["device"] for row in read_csv(scene, role)}, role
