"""My analysers, in the browser's words: describe, check, choose, forget."""

from __future__ import annotations

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from measurements.models import Test
from measurements.selectors.analysers import analysers as selectors
from tests import factories
from tests.pages.conftest import signed_in
from tests.rf.instruments.simulated_checks import CheckedAnalyser
from tests.services.analysers.test_analysers import write_touchstone

pytestmark = pytest.mark.usefixtures("reference_data")
NEW = "/account/analysers/new/"


@pytest.fixture
def by():
    return factories.member("Ada")


@pytest.fixture
def browser(by):
    return signed_in(by)


def describe(browser, by, **typed) -> str:
    answer = browser.post(NEW, {"name": "the small one", "paths": "1", **typed})
    assert answer.status_code == 302, answer.content.decode()
    return selectors.list_analysers(by)[0].key


def test_a_name_is_enough_and_the_page_says_what_is_taken(browser, by):
    key = describe(browser, by, paths="")
    page = browser.get(reverse("pages:analyser", kwargs={"key": key})).content.decode()
    assert "the small one" in page and "assumed" in page and "20.0 dB" in page


def test_faults_stand_beside_their_field(browser):
    answer = browser.post(NEW, {"name": "", "noise": "7"})
    assert answer.status_code == 422
    answer = browser.post(NEW, {"name": "x", "noise": "7"})
    assert answer.status_code == 422 and "noise is a number from" in answer.content.decode()


def test_check_sweeps_are_measured_and_said(browser, by):
    key = describe(browser, by)
    bench = CheckedAnalyser(np.random.default_rng(4), 0.01)
    load, ohm = bench.read_load()
    files = {"check_load": load, "check_line": bench.read_line(), "check_through": bench.read_through()}
    sent = {
        role: SimpleUploadedFile(f"{role}.s{sweep.ports}p", write_touchstone(sweep).data)
        for role, sweep in files.items()
    }
    where = reverse("pages:analyser_checks", kwargs={"key": key})
    assert "perfect by construction" in browser.get(where).content.decode()
    answer = browser.post(where, {**sent, "line_end": "open", "load_ohm": f"{ohm:.3f}"}, follow=True)
    page = answer.content.decode()
    assert "Directivity of port 1: at most" in page and "Match of port 2: at most" in page
    assert "measured" in page
    answer = browser.post(
        reverse("pages:analyser", kwargs={"key": key}), {"do": "forget_checks"}, follow=True
    )
    assert "at most" not in answer.content.decode()


def test_a_faulty_check_keeps_the_files_and_says_why(browser, by):
    key = describe(browser, by)
    where = reverse("pages:analyser_checks", kwargs={"key": key})
    load, _ = CheckedAnalyser(np.random.default_rng(4), 0.01).read_load()
    sent = {"check_load": SimpleUploadedFile("load.s1p", write_touchstone(load).data), "line_end": "open"}
    answer = browser.post(where, sent)
    page = answer.content.decode()
    assert answer.status_code == 422 and "Measure the load with a meter" in page and "Kept: load.s1p" in page


def test_it_is_chosen_on_the_upload_page_and_for_a_night(browser, by):
    key = describe(browser, by)
    device = factories.device(by)
    assert (
        f'<option value="{key}">the small one</option>'
        in browser.get(f"/upload/?kind=common_mode&device={device}").content.decode()
    )
    typed = {"kind": "common_mode", "device": device, "measured_on": "2026-03-14", "analyser": key}
    sweep = SimpleUploadedFile("a.s2p", factories.choke_s2p(one_direction=True))
    checked = browser.post("/upload/", {**typed, "calibrated": "true", "sweep": sweep})
    assert checked.status_code == 302, checked.content.decode()
    browser.post(checked["Location"], {"share": "publish", "recipe_confirmed": "yes"})
    assert Test.objects.get(device__key=device).settings["analyser_key"] == key
    operator = factories.member("Osric", "operator")
    night = signed_in(operator)
    own = describe(night, operator)
    answer = night.post("/nights/open/", {"held_on": "2026-05-14", "analyser": own})
    assert answer.status_code == 302
    refused = night.post("/nights/open/", {"held_on": "2026-05-14", "analyser": key})
    assert refused.status_code == 422


def test_it_is_forgotten(browser, by):
    key = describe(browser, by)
    browser.post(reverse("pages:analyser", kwargs={"key": key}), {"do": "forget"})
    assert selectors.list_analysers(by) == ()
