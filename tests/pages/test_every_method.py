"""Every page x every method x every role: what a page does not take, it takes from nobody.

Which methods a page takes stands in `urls` alone; `test_permissions` says what GET answers whom.
"""

from __future__ import annotations

from django.test import Client
from django.urls import resolve

from tests.pages.conftest import Group, signed_in
from tests.pages.test_permissions import SIGN_IN, TABLE, address

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
SAFE = {"GET", "HEAD"}
# what an empty form may lead to: asked again, sent elsewhere, refused, or there is nothing of theirs here
ANSWERS_TO_AN_EMPTY_FORM = {200, 302, 403, 404, 405, 409, 422}


def clients(group: Group) -> dict[str, Client]:
    people = {name: getattr(group, name) for name in ("stranger", "owner", "operator", "steward")}
    return {"nobody": Client(), **{name: signed_in(viewer) for name, viewer in people.items()}}


def taken(client: Client, place: str) -> set[str]:
    """The methods of a page, as it tells whoever tries another."""
    answer = client.generic("PUT", place)
    assert answer.status_code == 405, place
    return {method.strip() for method in answer["Allow"].split(",")}


def test_what_a_page_does_not_take_it_takes_from_nobody(group: Group):
    askers = clients(group)
    for name in TABLE:
        place = address(group, name)
        assert resolve(place).view_name == f"pages:{name}"
        allowed = taken(Client(), place)
        assert allowed <= {"GET", "HEAD", "POST"}
        for role, client in askers.items():
            assert taken(client, place) == allowed, (name, role)
            for method in set(METHODS) - allowed:
                assert client.generic(method, place).status_code == 405, (name, role, method)


def test_an_empty_form_changes_nothing_for_any_role(group: Group):
    for name in TABLE:
        place = address(group, name)
        if "POST" not in taken(Client(), place):
            continue
        for role, client in clients(group).items():  # anew, because one of the forms signs out
            if role in ("owner", "steward"):
                continue
            answer = client.post(place)
            list(answer)  # a download is read to its end
            assert answer.status_code in ANSWERS_TO_AN_EMPTY_FORM, (name, role)
            if role == "nobody" and TABLE[name][1][0] == SIGN_IN:
                assert answer.status_code == 302 and answer["Location"].startswith("/sign-in/"), name


def test_head_answers_as_get_does(group: Group):
    askers = clients(group)
    for name in TABLE:
        place = address(group, name)
        if not taken(Client(), place) >= SAFE:
            continue
        for number, role in enumerate(("nobody", "stranger", "owner", "steward")):
            answer = askers[role].head(place)
            assert answer.status_code == TABLE[name][1][number], (name, role)
            assert b"".join(answer) == b"", (name, role)
