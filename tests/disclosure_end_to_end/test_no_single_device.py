"""A member who reads everything finds no number that belongs to one other device.

The numbers are those that rows of single devices held: each device's worst, centre and best rejection on each
band and its curve, to 0.01 dB. They are looked for in every reply about designs, evidence and releases.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import numpy as np
import pytest
from django.test import Client

from measurements.models import Result
from measurements.rf.evidence_grid import GRID_HZ
from measurements.services.releases import releases
from tests import factories
from tests.pages.conftest import signed_in

pytestmark = pytest.mark.usefixtures("_no_limit")
NUMBER = re.compile(r"(?<![\w.])-?\d+\.\d+(?![\w.])")
FORMS = ("", "?format=csv", "?format=ndjson", "?format=touchstone", "?format=svg")


@pytest.fixture
def _no_limit(settings) -> None:
    for name in ("ANONYMOUS", "DRAWINGS", "TOKEN"):
        setattr(settings, f"BENCHNIGHT_{name}_PER_MINUTE", 1_000_000)


@pytest.fixture
def group(reference_data) -> dict[str, str]:
    """A design of four people and one of eleven; each device differs from the others by tenths of a dB."""
    made = {"few": factories.evidence(4), "many": factories.evidence(11, turns=9, first=20)}
    releases.make_release()
    return made


def list_numbers_of_devices() -> set[str]:
    """List what rows of single devices would show, as text with two decimals."""
    found: set[str] = set()
    for figures, curve in Result.objects.values_list("figures", "evidence_curve"):
        for band in figures["bands"]:
            rejection_db = band["rejection_db"]
            found |= {
                f"{rejection_db[name]:.2f}" for name in ("worst", "centre", "best") if rejection_db[name]
            }
        z_ohm = np.frombuffer(bytes(curve), "<c8")
        shown_db = 20 * np.log10(np.abs(1 + z_ohm / 100))
        found |= {f"{value:.2f}" for value in shown_db[np.isfinite(shown_db)]}
    # a frequency in MHz, or a figure that a step of 0.5 dB hits, is no trace of a device
    grid = {f"{hz / 1e6:{form}}" for hz in GRID_HZ for form in (".5g", ".4g", ".2f")}
    return {text for text in found if (float(text) * 2) % 1 and text not in grid}


def read_all(client: Client, group: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Read every address about designs, evidence and releases in every form."""
    addresses = [
        "/api/v1/evidence/",
        "/api/v1/designs/",
        "/api/v1/releases/",
        "/designs/",
        "/?band=40m",
        "/data/",
    ]
    for key in group.values():
        addresses += [f"/api/v1/designs/{key}/{part}" for part in ("", "evidence/", "curves/", "chart/")]
        addresses += [f"/designs/{key}/", f"/designs/{key}/chart.json", f"/designs/{key}/chart.svg"]
    manifest = client.get("/api/v1/releases/1/files/manifest.json/")
    files = json.loads(b"".join(manifest.streaming_content))["files"]
    addresses += [f"/api/v1/releases/1/files/{file['name']}/" for file in files]
    for address in addresses:
        for form in FORMS if address.startswith("/api/") and "files" not in address else ("",):
            reply = client.get(address + form)
            body = b"".join(reply.streaming_content) if reply.streaming else reply.content
            if reply.status_code == 200:
                text = body.decode("utf-8", "replace")
                # attributes hold the page's own drawings: coordinates of small pictures
                yield address + form, re.sub(r"<[^>]*>", " ", text) if text.startswith("<!") else text


@pytest.mark.parametrize("who", ["member", "anonymous"])
def test_no_number_of_one_other_device_is_to_be_found(group, who):
    client = signed_in(factories.member("attacker")) if who == "member" else Client()
    wanted = list_numbers_of_devices()
    assert len(wanted) > 500
    read = dict(read_all(client, group))
    assert len(read) > 25 and any("touchstone" in address for address in read)
    hits = {
        (address, number)
        for address, body in read.items()
        for number in NUMBER.findall(body)
        if number in wanted and not is_impedance(address)
    }
    assert hits == set()


def is_impedance(address: str) -> bool:
    """Say whether an address holds ohms or S-parameters too, in which two decimals may coincide."""
    return "curves/" in address or "chart" in address


def test_the_search_finds_a_row_where_there_is_one(group):
    """The same numbers stand on the page of the device's own owner."""
    client = signed_in(factories.member("person-0"))
    (test,) = client.get("/api/v1/tests/").json()["results"]
    body = client.get(f"/api/v1/tests/{test['id']}/").content.decode()
    rounded = {f"{float(number):.2f}" for number in NUMBER.findall(body)}
    assert len(rounded & list_numbers_of_devices()) > 10


def test_curves_and_charts_hold_whole_and_half_decibels_alone(group):
    client = signed_in(factories.member("attacker"))
    for name, step in (("few", 1.0), ("many", 0.5)):
        curves = client.get(f"/api/v1/designs/{group[name]}/curves/").json()
        shown = [
            value for part in curves["rejection_db"].values() for value in part or () if value is not None
        ]
        assert shown and all(value % step == 0 for value in shown)
        chart = client.get(f"/api/v1/designs/{group[name]}/chart/").json()
        drawn = [
            row[column]
            for rows in chart["datasets"].values()
            for row in rows
            for column in ("median", "p10", "p90")
            if row.get(column) is not None
        ]
        assert drawn and all(value % step == 0 for value in drawn)
        assert not [row for rows in chart["datasets"].values() for row in rows if "s0" in row]


def test_benchmarks_moved_in_steps_tell_nothing_of_four(group):
    """Trying one benchmark after the other would find where a verdict flips, and so single figures."""
    client, answers, listed = signed_in(factories.member("attacker")), set(), set()
    house = client.get(f"/api/v1/designs/{group['few']}/evidence/?band=40m").json()["results"][0]
    assert house["verdict"] and house["chance"]
    for benchmark_db in np.arange(10, 40.5, 0.5):
        if benchmark_db == house["benchmark_db"]:
            continue
        words = f"band=40m&benchmark_db={benchmark_db:g}"
        (seen,) = client.get(f"/api/v1/designs/{group['few']}/evidence/?{words}").json()["results"]
        answers.add(json.dumps({**seen, "benchmark_db": None}, sort_keys=True))
        for verdict in ("typically_meets", "mixed", "typically_falls_short", "not_enough_devices"):
            rows = client.get(f"/api/v1/designs/?{words}&verdict={verdict}").json()["results"]
            listed |= {row["id"] for row in rows}
    assert len(answers) == 1
    assert group["few"] not in listed
    assert group["many"] in listed  # of eleven it has an answer
