"""A list costs the same number of queries for 2 and for 20 rows."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factories

PATHS = [
    "designs/",
    "designs/?band=40m&band=20m",
    "devices/",
    "tests/",
    "evidence/",
    "devices/?format=csv",
    "tests/?format=ndjson",
]


def queries(scene, path: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        reply = scene.ask("stranger", "GET", path)
        assert reply.status_code == 200
    return len(captured)


def add(scene, count: int, start: int) -> None:
    owner = scene.viewers["stranger"]
    for number in range(start, start + count):
        device = factories.device(owner, factories.design(owner, turns=20 + number), tag=f"T-{number}")
        factories.record(owner, device, factories.choke_s2p(seed=300 + number, points=31))


def test_as_many_for_2_rows_as_for_20(scene):
    add(scene, 2, 0)
    few = {path: queries(scene, path) for path in PATHS}
    few = {path: queries(scene, path) for path in PATHS}  # the second time, what is kept in memory is there
    add(scene, 18, 2)
    for path in PATHS:  # judges the devices that are new, and reads the changed catalogue, once
        queries(scene, path)
    assert {path: queries(scene, path) for path in PATHS} == few
    assert max(few.values()) <= 12, few


@pytest.mark.parametrize("role", ["anonymous", "stranger"])
def test_a_public_page_of_evidence_too(scene, role):
    def count():
        with CaptureQueriesContext(connection) as captured:
            scene.ask(role, "GET", "evidence/?format=csv")
        return len(captured)

    count()
    before = count()
    add(scene, 5, 40)
    assert count() == before
