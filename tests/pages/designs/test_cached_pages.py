"""Pages of the catalogue are put together once for everybody who is not signed in, and hold nobody's own."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def design() -> str:
    key = factories.evidence(6)
    releases.make_release()
    return key


def test_the_second_look_costs_one_query(design):
    addresses = [
        "/",
        "/designs/?band=40m",
        f"/designs/{design}/?band=40m",
        f"/designs/{design}/chart.json",
        f"/designs/compare/?design={design}",
    ]
    for address in addresses:
        first = Client().get(address)
        with CaptureQueriesContext(connection) as captured:
            second = Client().get(address)
        assert (first.status_code, second.content) == (200, first.content), address
        assert len(captured) == 1, address


def test_each_look_and_address_has_its_own(design):
    client = Client()
    plain = client.get("/").content
    client.cookies["look"] = "dark"
    assert b'data-look="dark"' in client.get("/").content
    assert Client().get("/").content == plain
    assert Client().get("/", headers={"host": "localhost"}).status_code == 200


def test_members_get_their_own_and_nobody_else_does(design):
    member = factories.member("Wanda")
    own = Client()
    own.force_login(get_user_model().objects.get(pk=member.member_id))
    assert b"Wanda" in own.get(f"/designs/{design}/").content
    assert b"Wanda" not in Client().get(f"/designs/{design}/").content
    assert b"Wanda" in own.get(f"/designs/{design}/").content


def test_pages_for_everybody_hold_no_token(design):
    for address in ("/", "/designs/", f"/designs/{design}/"):
        response = Client().get(address)
        assert b"csrfmiddlewaretoken" not in response.content
        assert not response.cookies


def test_a_new_design_is_there_at_once(design):
    before = Client().get("/designs/").content
    factories.design(factories.member("Wanda"), turns=33)
    assert Client().get("/designs/").content != before


def test_a_refusal_is_not_kept():
    for _ in range(2):
        assert Client().get("/designs/zzzzzzzzzzzz/").status_code == 404


def test_the_look_is_set_without_a_token_but_not_from_elsewhere():
    strict = Client(enforce_csrf_checks=True)
    assert strict.post("/look/", {"look": "dark", "next": "/"}).cookies["look"].value == "dark"
    away = strict.post("/look/", {"look": "light"}, headers={"Origin": "https://elsewhere.example"})
    assert "look" not in away.cookies
