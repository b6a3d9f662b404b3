"""Pictures, comparisons and maps count where they are made; both doors count one network together."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.pages.conftest import Group, signed_in


@pytest.fixture(autouse=True)
def _one_window(monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)


MADE_ANEW = {
    "picture of a design": "/designs/{design}/chart.svg?benchmark_db={n}",
    "chart of a design": "/designs/{design}/chart.json?benchmark_db={n}",
    "comparison": "/designs/compare/?design={design}&benchmark_db={n}",
    "picture of a comparison": "/designs/compare/chart.svg?design={design}&benchmark_db={n}",
    "heat map": "/designs/heat.svg?turns_min={n}",
    "list": "/designs/?turns_min={n}",
    "design": "/designs/{design}/?benchmark_db={n}",
    "first page": "/?band=40m&benchmark_db={n}",
    "prediction": "/predict/winding/chart.json?part=2631803802&stacked=1&turns=12&benchmark_db={n}",
}


@pytest.mark.parametrize("made", MADE_ANEW)
def test_what_is_made_anew_is_limited_by_network(group: Group, settings, made):
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 2
    addresses = [f"2001:db8:1:1::{number}" for number in (1, 2, 3)]
    answers = [
        Client().get(MADE_ANEW[made].format(design=group.design, n=11 + n), REMOTE_ADDR=address)
        for n, address in enumerate(addresses)
    ]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert 0 < int(answers[-1]["Retry-After"]) <= 60


def test_a_cookie_of_no_session_does_not_dodge_the_limit(group: Group, settings):
    """With any cookie of this name nothing kept is shown; so it is made anew, and counts."""
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 2
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = "x" * 32
    assert [client.get("/designs/").status_code for _ in range(3)] == [200, 200, 429]


def test_what_is_kept_costs_nothing(group: Group, settings):
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1
    assert [Client().get("/designs/").status_code for _ in range(4)] == [200] * 4


def test_a_winding_counts_as_computing(group: Group, settings):
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 2
    address = "/predict/winding/?part=2631803802&stacked=1&turns=12&band=40m"
    assert [Client().get(address).status_code for _ in range(3)] == [200, 200, 429]


def test_pages_and_api_count_computing_together(group: Group, settings):
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 2
    page = "/predict/winding/?part=2631803802&stacked=1&turns=12&band=40m"
    assert Client().get(page, REMOTE_ADDR="2001:db8::1").status_code == 200
    assert Client().get("/api/v1/predict/?band=40m&limit=1", REMOTE_ADDR="2001:db8::2").status_code == 200
    assert Client().get("/api/v1/predict/?band=40m&limit=1", REMOTE_ADDR="2001:db8::3").status_code == 429
    assert Client().get(page, REMOTE_ADDR="2001:db8::4").status_code == 429


def test_members_are_counted_by_account(group: Group, settings):
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 2
    client = signed_in(group.owner)
    address = f"/tests/{group.test}/chart.json"
    assert [client.get(address).status_code for _ in range(3)] == [200, 200, 429]
    assert Client().get("/designs/heat.json").status_code == 200
