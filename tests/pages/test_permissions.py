"""Who may open what: every address of the pages for nobody, a stranger, the owner and a steward."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from measurements.pages import urls
from measurements.services.accounts import membership
from tests.pages.conftest import Group, signed_in

SIGN_IN = 302  # to the sign-in page
# name: (path arguments, answers to GET of nobody, stranger, owner, steward)
TABLE: dict[str, tuple[dict[str, str], tuple[int, int, int, int]]] = {
    "home": ({}, (200, 200, 200, 200)),
    "designs": ({}, (200, 200, 200, 200)),
    "design": ({"key": "design"}, (200, 200, 200, 200)),
    "design_watch": ({"key": "design"}, (SIGN_IN, 200, 200, 200)),
    "design_chart": ({"key": "design", "form": "json"}, (200, 200, 200, 200)),
    "design_own_chart": ({"key": "design", "form": "json"}, (SIGN_IN, 200, 200, 200)),
    "heat_chart": ({"form": "json"}, (200, 200, 200, 200)),
    "compare": ({}, (200, 200, 200, 200)),
    "compare_chart": ({"form": "json"}, (200, 200, 200, 200)),
    "check": ({}, (200, 200, 200, 200)),
    "check_kept": ({"secret": "x" * 43}, (404, 404, 404, 404)),
    "lookup": ({}, (200, 200, 200, 200)),
    "predict": ({}, (200, 200, 200, 200)),
    "predict_ratio": ({}, (200, 200, 200, 200)),
    "predict_core": ({}, (200, 200, 200, 200)),
    "predict_winding": ({}, (400, 400, 400, 400)),
    "prediction_chart": ({"form": "json"}, (400, 400, 400, 400)),
    "upload": ({}, (200, 200, 200, 200)),
    "upload_matches": ({}, (SIGN_IN, 200, 200, 200)),
    "upload_checked": ({"draft": "nosuchdraft1"}, (SIGN_IN, 404, 404, 404)),
    "upload_chart": ({"draft": "nosuchdraft1", "form": "json"}, (SIGN_IN, 404, 404, 404)),
    "search": ({}, (200, 200, 200, 200)),
    "tests": ({}, (SIGN_IN, 200, 200, 200)),
    "test": ({"key": "test"}, (SIGN_IN, 404, 200, 200)),
    "test_chart": ({"key": "test", "form": "json"}, (SIGN_IN, 404, 200, 200)),
    "test_standing": ({"key": "test", "form": "json"}, (SIGN_IN, 404, 200, 200)),
    "test_withdraw": ({"key": "test"}, (SIGN_IN, 404, 200, 200)),
    "test_confirm_recipe": ({"key": "test"}, (405, 405, 405, 405)),
    "test_privacy": ({"key": "test"}, (405, 405, 405, 405)),
    "sweep": ({"key": "test", "role": "sweep"}, (SIGN_IN, 404, 200, 200)),
    "devices": ({}, (SIGN_IN, 200, 200, 200)),
    "board": ({}, (SIGN_IN, 200, 200, 200)),
    "device": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "device_access": ({"key": "device"}, (405, 405, 405, 405)),
    "device_new": ({}, (SIGN_IN, 200, 200, 200)),
    "device_hands": ({"key": "device"}, (405, 405, 405, 405)),
    "offer_answer": ({"key": "device"}, (405, 405, 405, 405)),
    "kit": ({}, (SIGN_IN, 200, 200, 200)),
    "kit_table": ({}, (SIGN_IN, 200, 200, 200)),
    "kit_places": ({}, (SIGN_IN, 200, 200, 200)),
    "kit_csv": ({}, (SIGN_IN, 200, 200, 200)),
    "labels": ({}, (SIGN_IN, 200, 200, 200)),
    "labels_pdf": ({}, (SIGN_IN, 400, 400, 400)),  # which devices is in the query
    "labels_blank": ({}, (405, 405, 405, 405)),
    "label_bind": ({"key": "device"}, (405, 405, 405, 405)),
    "device_change": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "devices_due": ({}, (SIGN_IN, 403, 403, 200)),
    "baseline": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "device_trend": ({"key": "device", "form": "json"}, (SIGN_IN, 404, 200, 200)),
    "inspect": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "inspection": ({"key": "inspection"}, (SIGN_IN, 404, 200, 200)),
    "photo_add": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "photo": ({"key": "photo"}, (SIGN_IN, 404, 200, 200)),
    "photo_image": ({"key": "photo", "size": "full"}, (SIGN_IN, 404, 200, 200)),
    "fault_begin": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "fault_search": ({"key": "search"}, (SIGN_IN, 404, 200, 200)),
    "report": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "report_pdf": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "analysers": ({}, (SIGN_IN, 200, 200, 200)),
    "analyser_new": ({}, (SIGN_IN, 200, 200, 200)),
    # its owner's alone: a steward finds nothing there
    "analyser": ({"key": "analyser"}, (SIGN_IN, 404, 200, 404)),
    "analyser_checks": ({"key": "analyser"}, (SIGN_IN, 404, 200, 404)),
    "calendar": ({}, (SIGN_IN, 200, 200, 200)),
    # whoever has the address may read it: that is what it is for
    "calendar_feed": ({"secret": "feed"}, (200, 200, 200, 200)),
    "news_feed": ({"secret": "feed"}, (200, 200, 200, 200)),
    "device_card": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "device_qr": ({"key": "device"}, (SIGN_IN, 404, 200, 200)),
    "bench_of": ({"key": "device"}, (SIGN_IN, 302, 302, 302)),
    "claim": ({}, (SIGN_IN, 200, 200, 200)),
    # nights are run by operators; `test_night_permissions` tells them apart
    "nights": ({}, (SIGN_IN, 403, 403, 200)),
    "check_mark": ({"key": "device"}, (SIGN_IN, 403, 403, 200)),
    "check_standards": ({}, (SIGN_IN, 403, 403, 200)),
    "check_standard": ({"key": "nosuchstand1"}, (SIGN_IN, 403, 403, 404)),
    "check_standard_chart": ({"key": "nosuchstand1", "form": "json"}, (SIGN_IN, 403, 403, 404)),
    "check_hold": ({"key": "nosuchhold12"}, (SIGN_IN, 403, 403, 404)),
    "night_open": ({}, (SIGN_IN, 403, 403, 200)),
    "night": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "test_move": ({"key": "test"}, (SIGN_IN, 404, 200, 200)),
    "move_undo": ({"key": "nosuchmove12"}, (SIGN_IN, 200, 200, 200)),
    "night_move": ({"key": "night"}, (405, 405, 405, 405)),
    "night_mine": ({"key": "night"}, (SIGN_IN, 404, 404, 404)),
    "night_summary": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "after": ({}, (200, 200, 200, 200)),
    "night_change": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_close": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_people": ({"key": "night"}, (405, 405, 405, 405)),
    "night_device": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_jig": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_jig_chart": ({"key": "night", "form": "json"}, (SIGN_IN, 403, 403, 404)),
    "night_bench": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_cards": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_labels": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_intake": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_manifest": ({"key": "night"}, (SIGN_IN, 403, 403, 200)),
    "night_bundle": ({"key": "night"}, (405, 405, 405, 405)),
    "bundles": ({}, (SIGN_IN, 403, 403, 200)),
    "bundle_group": ({}, (405, 405, 405, 405)),
    "bundle": ({"key": "nosuchbundle"}, (SIGN_IN, 403, 403, 404)),
    "intake": ({"key": "night", "intake": "nosuchintak1"}, (SIGN_IN, 403, 403, 404)),
    "intake_state": ({"key": "night", "intake": "nosuchintak1"}, (SIGN_IN, 403, 403, 404)),
    "intake_file": (
        {"key": "night", "intake": "nosuchintak1", "number": "1"},
        (SIGN_IN, 403, 403, 404),
    ),
    "account_pool": ({}, (SIGN_IN, 200, 200, 200)),
    "account": ({}, (SIGN_IN, 200, 200, 200)),
    "tokens": ({}, (SIGN_IN, 200, 200, 200)),
    "token_revoke": ({}, (405, 405, 405, 405)),
    "second_factor": ({}, (SIGN_IN, 200, 200, 200)),
    "second_factor_app": ({}, (SIGN_IN, 200, 200, 200)),
    # no passkeys at an address of numbers without TLS: leads back to the page of second factors
    "second_factor_passkey": ({}, (SIGN_IN, 302, 302, 302)),
    "own_sessions": ({}, (SIGN_IN, 200, 200, 200)),
    "account_copy": ({}, (405, 405, 405, 405)),
    "account_bundle": ({}, (405, 405, 405, 405)),
    "account_delete": ({}, (SIGN_IN, 200, 200, 200)),
    "sign_out_everywhere": ({}, (405, 405, 405, 405)),
    "steward": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_tests": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_test": ({"key": "test"}, (SIGN_IN, 403, 403, 200)),
    "steward_designs": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_merge": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_core": ({}, (SIGN_IN, 403, 403, 404)),  # which one is in the query
    "steward_bands": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_limits": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_conductors": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_settings": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_start": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_demo": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_accounts": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_account": ({}, (SIGN_IN, 403, 403, 404)),  # so is the account
    "steward_pool": ({}, (SIGN_IN, 403, 403, 200)),
    "steward_log": ({}, (SIGN_IN, 403, 403, 200)),
    "sign_in": ({}, (200, 302, 302, 302)),
    # nobody has shown a first factor here
    "sign_in_second": ({}, (302, 302, 302, 302)),
    "sign_in_link": ({"secret": "x" * 32}, (200, 200, 200, 200)),
    "sign_out": ({}, (405, 405, 405, 405)),
    "guide": ({}, (200, 200, 200, 200)),
    "guide_topic": ({"topic": "common_mode"}, (200, 200, 200, 200)),
    "guide_drawing": ({"slug": "common_mode.sweep"}, (200, 200, 200, 200)),
    "data": ({}, (200, 200, 200, 200)),
    "look": ({}, (405, 405, 405, 405)),
}


def address(group: Group, name: str) -> str:
    given = TABLE[name][0]
    kwargs = {key: getattr(group, value, value) for key, value in given.items()}
    return reverse(f"pages:{name}", kwargs=kwargs)


def test_every_address_stands_in_the_table():
    assert {pattern.name for pattern in urls.urlpatterns} == set(TABLE)


@pytest.mark.parametrize("name", TABLE)
def test_who_may_read_it(group: Group, name: str):
    clients = [Client(), signed_in(group.stranger), signed_in(group.owner), signed_in(group.steward)]
    answers = tuple(client.get(address(group, name)).status_code for client in clients)
    assert answers == TABLE[name][1]


def test_a_suspended_member_sees_what_nobody_sees(group: Group):
    """The session was open when the steward suspended the account; it ends with it, at every address."""
    former = signed_in(group.stranger)
    assert former.get(reverse("pages:devices")).status_code == 200
    membership.suspend_member(by=group.steward, name=group.stranger.name)
    answers = {name: former.get(address(group, name)).status_code for name in TABLE}
    assert answers == {name: row[1][0] for name, row in TABLE.items()}


@pytest.mark.parametrize("name", TABLE)
def test_nobody_and_strangers_change_nothing(group: Group, name: str):
    """POST without a session goes to sign in, is refused, or only asks again; the owner's things stay."""
    for client in (Client(), signed_in(group.stranger)):
        answer = client.post(address(group, name))
        list(answer)  # a download is read to its end
        assert answer.status_code in (200, 302, 403, 404, 405, 422)
    assert signed_in(group.owner).get(reverse("pages:test", kwargs={"key": group.test})).status_code == 200


def test_other_methods_are_refused(group: Group):
    client = signed_in(group.owner)
    for name in TABLE:
        for method in (client.put, client.patch, client.delete):
            assert method(address(group, name)).status_code == 405, name


def test_signing_in_leads_back_to_where_one_wanted(group: Group):
    answer = Client().get(reverse("pages:device", kwargs={"key": group.device}))
    assert answer["Location"] == f"/sign-in/?next=%2Fdevices%2F{group.device}%2F"


def test_a_form_without_its_token_is_refused(group: Group):
    client = Client(enforce_csrf_checks=True)
    answer = client.post("/sign-in/", {"name": "Ben", "password": "x"})
    assert answer.status_code == 403
    said = answer.content.decode()
    assert "open for too long" in said and "This form waited too long" in said


def test_an_unknown_test_and_another_members_look_the_same(group: Group):
    client = signed_in(group.stranger)
    theirs = client.get(f"/tests/{group.test}/")
    unknown = client.get("/tests/222222222222/")
    assert theirs.status_code == unknown.status_code == 404
    strip = {group.test: "KEY", "222222222222": "KEY"}
    texts = []
    for answer in (theirs, unknown):
        text = answer.content.decode()
        for key, word in strip.items():
            text = text.replace(key, word)
        texts.append(text.split("csrfmiddlewaretoken")[0])
    assert texts[0] == texts[1]


def test_the_data_page_lists_the_files_that_its_reader_may_have(group: Group):
    """Names lead to the API, whose own tests follow them."""
    public, members = Client().get("/data/").content.decode(), signed_in(group.stranger).get("/data/")
    for name in ("evidence.csv", "evidence.ndjson", "dictionary.json", "LICENCE.txt", "manifest.json"):
        assert f'href="/api/v1/releases/1/files/{name}/"' in public
    assert 'href="/api/v1/releases/1/files/evidence.csv/"' in members.content.decode()
