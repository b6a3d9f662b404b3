"""Stewards' pages do what they say, keep what was typed, name the field, and leak no reason."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.models import (
    Allocation,
    Benchmark,
    Conductor,
    CoreAlias,
    Design,
    GroupSetting,
    Member,
    Test,
)
from measurements.services.releases import releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

REASON = "quagga-reason: the clips were swapped"
TYPED = {"outer_mm": 62.0, "inner_mm": 36.1, "height_mm": 12.9}


@dataclass(frozen=True)
class Few:
    """A steward, a member with one tested device, and one without."""

    owner: Viewer
    stranger: Viewer
    steward: Viewer
    design: str
    device: str
    test: str


@pytest.fixture
def few(reference_data: None) -> Few:
    owner = factories.member("person-0")
    design = factories.design(owner)
    device = factories.device(owner, design, tag="QX-TAG-77")
    test = factories.record(owner, device, factories.choke_s2p(seed=99, points=101))
    stranger, steward = factories.member("Ben"), factories.member("Cleo", "steward")
    return Few(owner, stranger, steward, design, device, test)


@pytest.fixture
def steward(few: Few) -> Client:
    return signed_in(few.steward)


def said(answer) -> str:
    return markup.words(answer.content)


def test_the_overview_counts_what_needs_a_look(steward: Client, few: Few):
    factories.record(few.owner, few.device, factories.choke_s2p(seed=3), calibrated="false")
    factories.design(few.steward, turns=12, conductor="RG-316")
    text = said(steward.get("/steward/"))
    assert "1 flagged test to look at" in text and "0 left out of evidence" in text
    assert "1 pair of designs that may be one" in text
    assert "have a second one" in text
    assert 'href="/steward/"' in steward.get("/").content.decode()
    assert 'href="/steward/"' not in signed_in(few.owner).get("/").content.decode()


def test_a_flagged_test_is_looked_at_and_off_the_list(steward: Client, few: Few):
    key = factories.record(few.owner, few.device, factories.choke_s2p(seed=3), calibrated="false")
    page = steward.get("/steward/tests/")
    assert f"/steward/tests/{key}/" in page.content.decode() and "declared uncalibrated" in said(page)
    assert steward.post("/steward/tests/", {"test": key}).status_code == 302
    assert key not in steward.get("/steward/tests/").content.decode()
    assert key in steward.get("/steward/tests/?which=reviewed").content.decode()
    assert steward.post("/steward/tests/", {"test": "222222222222"}).status_code == 404


def test_an_excluded_test_says_why_to_its_owner_and_to_nobody_else(group: Group):
    steward = signed_in(group.steward)
    answer = steward.post(f"/steward/tests/{group.test}/", {"act": "exclude", "reason": REASON})
    assert answer.status_code == 302
    owner = signed_in(group.owner)
    assert REASON in said(owner.get(f"/tests/{group.test}/"))
    assert owner.get(f"/api/v1/tests/{group.test}/").json()["excluded_reason"] == REASON
    assert REASON in steward.get(f"/steward/tests/{group.test}/").content.decode()
    assert REASON in said(steward.get("/steward/tests/?which=excluded"))
    assert "quagga" not in steward.get("/steward/log/").content.decode()
    releases.make_release()
    for reader in (Client(), signed_in(group.stranger)):
        for address in (
            f"/tests/{group.test}/",
            f"/designs/{group.design}/",
            "/",
            "/api/v1/evidence/",
            "/api/v1/tests/",
            f"/api/v1/designs/{group.design}/",
            "/api/v1/releases/2/files/evidence.csv/",
        ):
            answer = reader.get(address)
            body = b"".join(answer.streaming_content) if answer.streaming else answer.content
            assert b"quagga" not in body, address
    assert steward.post(f"/steward/tests/{group.test}/", {"act": "include"}).status_code == 302
    assert Test.objects.get(key=group.test).excluded_at is None
    owner.post(f"/tests/{group.test}/withdraw/")
    assert not Test.objects.filter(key=group.test).exists()


def test_without_a_reason_nothing_is_left_out(steward: Client, few: Few):
    answer = steward.post(f"/steward/tests/{few.test}/", {"act": "exclude", "reason": "no"})
    assert answer.status_code == 422
    assert markup.read(answer.content).one("textarea", name="reason").text.strip() == "no"
    assert "Say why" in said(answer)
    assert Test.objects.get(key=few.test).excluded_at is None


def test_the_band_plan_is_changed_from_a_day_on(steward: Client):
    day = timezone.now().date() + timedelta(days=30)
    given = {
        "act": "change",
        "band": "80m",
        "start_mhz": "3.5",
        "stop_mhz": "3.75",
        "valid_from": day.isoformat(),
    }
    refused = steward.post("/steward/bands/", given)
    page = markup.read(refused.content)
    assert refused.status_code == 422
    assert page.one("input", name="stop_mhz").attrs["value"] == "3.75"
    assert page.one("ul", id="id_source_error").text.strip() == "Say where it is decided or written."
    overlapping = steward.post("/steward/bands/", {**given, "stop_mhz": "7.05", "source": "meeting"})
    assert "overlap 60m" in markup.read(overlapping.content).one("ul", id="id_start_mhz_error").text
    assert steward.post("/steward/bands/", {**given, "source": "meeting"}).status_code == 302
    row = Allocation.objects.get(band="80m", valid_from=day, basis="set by the group")
    assert (row.start_hz, row.stop_hz) == (3.5e6, 3.75e6)
    assert "3.5 to 3.75 MHz" in said(steward.get("/steward/bands/"))
    ended = {"act": "end", "band": "60m", "last_day": day.isoformat(), "source": "meeting"}
    assert steward.post("/steward/bands/", ended).status_code == 302
    assert not Allocation.objects.filter(region=row.region, band="60m", valid_to=None).exists()
    prefilled = markup.read(steward.get("/steward/bands/?band=40m").content)
    assert prefilled.one("input", name="start_mhz").attrs["value"] == "7.0"


def test_a_limit_is_set_and_pages_say_whose_it_is(steward: Client, few: Few):
    owner = signed_in(few.owner)
    assert "rejection of 20 dB or more (common practice)" in said(owner.get(f"/tests/{few.test}/"))
    given = {"limit": "common_mode.rejection_db", "value": "25", "as_of": timezone.now().date().isoformat()}
    no_number = steward.post("/steward/limits/", {**given, "value": "many", "source": "spring meeting"})
    assert "Give a number, such as 7.2." in said(no_number)
    refused = steward.post("/steward/limits/", {**given, "value": "25,3", "source": "spring meeting"})
    assert refused.status_code == 422  # a comma is read, and the step is what is wrong
    assert "in steps of 0.5" in markup.read(refused.content).one("ul", id="id_value_error").text
    assert steward.post("/steward/limits/", {**given, "source": "spring meeting"}).status_code == 302
    assert Benchmark.objects.filter(source="spring meeting", value=25).exists()
    new = factories.record(few.owner, few.device, factories.choke_s2p(seed=17))
    assert "rejection of 25 dB or more (set by the group)" in said(owner.get(f"/tests/{new}/"))
    asked = factories.record(few.owner, few.device, factories.choke_s2p(seed=18), benchmark_db="31")
    assert "31 dB or more (asked for with this test)" in said(owner.get(f"/tests/{asked}/"))


def test_a_setting_is_set_and_goes_back_to_its_default(steward: Client):
    page = steward.get("/steward/settings/")
    assert "House default: 365; 1 to 3660" in said(page)
    given = {"name": "service_test_interval_days", "version": "", "value": "0"}
    refused = steward.post("/steward/settings/", given)
    assert refused.status_code == 422
    field = markup.read(refused.content).one("input", id="id_service_test_interval_days_value")
    assert field.attrs["value"] == "0"
    assert "whole number from 1 to 3660" in said(refused)
    assert steward.post("/steward/settings/", {**given, "value": "180"}).status_code == 302
    assert GroupSetting.objects.get().value == 180
    stale = steward.post("/steward/settings/", {**given, "value": "90"})
    assert stale.status_code == 422 and "changed this meanwhile" in said(stale)
    page = markup.read(steward.get("/steward/settings/").content)
    version = next(
        each.attrs["value"]
        for each in page.all("input")
        if each.attrs.get("id") == "id_service_test_interval_days_version"
    )
    reset = {"name": "service_test_interval_days", "version": version, "act": "reset"}
    assert steward.post("/steward/settings/", reset).status_code == 302
    assert not GroupSetting.objects.exists()
    assert steward.post("/steward/settings/", {"name": "nothing", "value": "1"}).status_code == 404


def test_a_conductor_is_added(steward: Client):
    refused = steward.post("/steward/conductors/", {"name": "RG 316", "source": "catalogue"})
    assert "has RG-316 already" in markup.read(refused.content).one("ul", id="id_name_error").text
    given = {"name": "LMR-100", "outer_mm": "2.79", "source": "catalogue"}
    assert steward.post("/steward/conductors/", given).status_code == 302
    assert Conductor.objects.get(name="LMR-100").outer_mm == 2.79
    assert "LMR-100" in said(steward.get("/steward/conductors/"))


def test_two_designs_are_merged_and_the_old_address_leads_on(steward: Client, few: Few):
    other = factories.design(few.steward, turns=12, conductor="RG-316")
    listed = steward.get("/steward/designs/").content.decode()
    assert f"design={few.design}&amp;into={other}" in listed
    page = steward.get(f"/steward/designs/merge/?design={few.design}&into={other}")
    assert page.status_code == 200 and "It cannot be undone" in said(page)
    assert steward.get(f"/steward/designs/merge/?design={few.design}&into=222222222222").status_code == 422
    cut_off = steward.get(f"/steward/designs/merge/?design={few.design[:6]}&into={other}")
    assert "Give the twelve letters and digits at the end of the design's address." in said(cut_off)
    answer = steward.post("/steward/designs/merge/", {"design": few.design, "into": other})
    assert (answer.status_code, answer["Location"]) == (302, f"/designs/{other}/")
    assert Design.objects.get(key=few.design).merged_into.key == other
    old = Client().get(f"/designs/{few.design}/?band=40m")
    assert (old.status_code, old["Location"]) == (302, f"/designs/{other}/?band=40m")
    assert Client().get(f"/api/v1/designs/{few.design}/").json()["id"] == other
    again = steward.post("/steward/designs/merge/", {"design": few.design, "into": other})
    assert again.status_code == 422


def test_a_typed_size_is_named(steward: Client, few: Few):
    factories.design(few.steward, turns=5, **TYPED)
    listed = steward.get("/steward/designs/").content.decode()
    address = re.search(r'href="(/steward/cores/[^"]+)"', listed)[1].replace("&amp;", "&")
    page = steward.get(address)
    assert "Toroid 62 × 36.1 × 12.9 mm, mix 31" in said(page)
    hidden = {
        each.attrs["name"]: each.attrs["value"]
        for each in markup.read(page.content).all("input")
        if each.attrs.get("type") == "hidden"
    }
    hidden.pop("csrfmiddlewaretoken", None)
    hidden.pop("next", None)
    refused = steward.post("/steward/cores/", {**hidden, "part": "nothing"})
    assert refused.status_code == 422
    assert steward.post("/steward/cores/", {**hidden, "part": "2631803802"}).status_code == 302
    assert CoreAlias.objects.get().core.part == "2631803802"
    assert steward.post("/steward/cores/", {**hidden, "part": "2631803802"}).status_code == 404


def test_an_invitation_shows_its_link_once(steward: Client):
    answer = steward.post("/steward/accounts/", {"name": "Nils Holm", "role": "operator"})
    assert answer.status_code == 200 and "no-store" in answer["Cache-Control"]
    link = re.search(r"(/sign-in/[\w-]{20,64}/)", answer.content.decode())[1]
    assert Client().post(link)["Location"] == "/account/"
    assert link.split("/")[2] not in steward.get("/steward/account/?name=Nils%20Holm").content.decode()
    taken = steward.post("/steward/accounts/", {"name": "nils holm", "role": "member"})
    page = markup.read(taken.content)
    assert taken.status_code == 422 and page.one("input", id="id_name").attrs["value"] == "nils holm"
    assert "There is an account of this name" in page.one("ul", id="id_name_error").text


def test_an_account_is_suspended_opened_and_given_a_role(steward: Client, few: Few):
    address, stranger = "/steward/account/?name=Ben", signed_in(few.stranger)
    assert steward.post(address, {"act": "suspend"}).status_code == 302
    assert stranger.get("/account/").status_code == 302
    assert "Suspended" in said(steward.get(address))
    assert steward.post(address, {"act": "suspend"}).status_code == 422
    assert steward.post(address, {"act": "unsuspend"}).status_code == 302
    assert steward.post(address, {"act": "role", "role": "operator"}).status_code == 302
    assert Member.objects.get(name="Ben").role == "operator"
    assert steward.post(address, {"act": "revoke"}).status_code == 302
    assert "/sign-in/" in steward.post(address, {"act": "link"}).content.decode()
    own = "/steward/account/?name=Cleo"
    refused = steward.post(own, {"act": "role", "role": "member"})
    assert refused.status_code == 422 and "only steward" in said(refused)
    assert "only steward" in said(steward.post(own, {"act": "suspend"}))
    assert "Make a link" not in said(steward.get(own))
    refused = steward.post(own, {"act": "link"})
    assert refused.status_code == 422 and "another steward" in said(refused)
    assert steward.post(address, {"act": "crown"}).status_code == 400


def test_the_log_is_read_and_filtered(steward: Client, few: Few):
    assert "test.record" in said(steward.get("/steward/log/"))
    only = said(steward.get(f"/steward/log/?action=device.&since={timezone.now().date().isoformat()}"))
    assert "device.register" in only and "test.record" not in only
    assert steward.get("/steward/log/?since=yesterday").status_code == 400
    first = steward.get("/steward/log/?action=t")
    assert first.status_code == 200
    assert steward.get("/steward/log/?cursor=nonsense").status_code == 400


def test_a_forms_token_is_asked_for(few: Few):
    client = Client(enforce_csrf_checks=True)
    client.cookies = signed_in(few.steward).cookies
    for address in ("/steward/tests/", "/steward/accounts/", "/account/copy/", "/account/delete/"):
        assert client.post(address, {"name": "X", "role": "member"}).status_code == 403
    assert not Member.objects.filter(name="X").exists()


ADDRESSES = (
    "/steward/",
    "/steward/tests/",
    "/steward/tests/?which=excluded",
    "/steward/tests/{test}/",
    "/steward/designs/",
    "/steward/designs/merge/",
    "/steward/designs/merge/?design={design}&into={design}",
    "/steward/bands/",
    "/steward/limits/",
    "/steward/settings/",
    "/steward/conductors/",
    "/steward/accounts/",
    "/steward/account/?name=Ben",
    "/steward/log/",
    "/account/delete/",
)


def test_the_pages_keep_what_every_page_promises(steward: Client, few: Few):
    """Nothing inline, one title, a caption to every table, a label to every field, each id once."""
    factories.design(few.steward, turns=5, **TYPED)
    for pattern in ADDRESSES:
        answer = steward.get(pattern.format(**vars(few)))
        assert answer.status_code == 200, pattern
        assert "unsafe" not in answer["Content-Security-Policy"]
        assert "no-store" in answer["Cache-Control"]
        page = markup.read(answer.content)
        assert len(page.all("h1")) == 1
        assert len(page.all("table")) == len(page.all("caption")), pattern
        assert len(page.ids) == len(set(page.ids)), pattern
        labelled = {each.attrs.get("for") for each in page.all("label")}
        for element in page.elements:
            assert "style" not in element.attrs and not [
                name for name in element.attrs if name.startswith("on")
            ]
            if element.tag in ("input", "select", "textarea") and element.attrs.get("type") != "hidden":
                assert element.attrs.get("id") in labelled, (pattern, element.attrs)


def test_the_page_of_a_test_says_what_may_be_decided_about_it(steward: Client, few: Few):
    sound = factories.record(few.owner, few.device, factories.choke_s2p(seed=4))
    flagged = factories.record(few.owner, few.device, factories.choke_s2p(seed=3), calibrated="false")
    page = said(steward.get(f"/steward/tests/{sound}/"))
    assert "No flag of this test asks for a look" in page and "For what no flag can see" in page
    assert "Looked at, leave it so" not in page and "Leave it out all the same" in page
    page = said(steward.get(f"/steward/tests/{flagged}/"))
    assert "Looked at, leave it so" in page and "It does not count as it is." in page


def test_a_steward_says_that_two_names_are_one_person(steward: Client):
    for name in ("Ben", "Bennie"):
        factories.device(factories.member(name))
    address = "/steward/account/?name=Ben"
    answer = steward.post(address, {"act": "join", "other": "Bennie"}, follow=True)
    assert "They count as one person" in markup.words(answer.content)
    unknown = steward.post(address, {"act": "join", "other": "Nobody"}, follow=True)
    assert "No account or guest has the name" in markup.words(unknown.content)
