"""A fault search from the symptom to the finding, one step a page, on another day if need be."""

from __future__ import annotations

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.models import FaultSearch, FaultStep, Test
from tests.pages import markup
from tests.pages.conftest import Group


def s1p(z_ohm: float, name: str = "x.s1p") -> SimpleUploadedFile:
    """S11 of one resistance from 1 to 30 MHz: (R - 50)/(R + 50)."""
    gamma = (z_ohm - 50) / (z_ohm + 50)
    rows = [f"{freq:.1f} {gamma:.8f} 0" for freq in np.linspace(1e6, 30e6, 51)]
    return SimpleUploadedFile(name, ("\n".join(["# Hz S RI R 50", *rows]) + "\n").encode())


TYPED = {"do": "record", "measured_on": "2026-05-02", "calibrated": "true"}


OUTSIDE = ("ground_look", "shack_sweep", "line", "line_parts", "inspection")


def pass_over(client: Client, address: str, *steps: str) -> None:
    for step in steps:
        assert client.post(address, {"do": "skip", "step": step}).status_code == 302


def test_from_the_symptom_to_the_finding(owner: Client, group: Group):
    begun = owner.post(f"/devices/{group.device}/fault-search/", {"symptom": "high_swr", "band": "40m"})
    address = begun["Location"]
    words = markup.words(owner.get(address).content)
    assert "Look from the ground" in words and "live until the utility says otherwise" in words
    chosen = {"do": "choose", "step": "ground_look", "choice": "good"}
    assert owner.post(address, chosen)["Location"] == address
    words = markup.words(owner.get(address).content)
    assert "Sweep in the shack" in words and "live until the utility" not in words
    assert owner.post(address, {**chosen, "step": "shack_sweep", "choice": "changed"}).status_code == 302
    pass_over(owner, address, "line", "line_parts", "inspection")
    page = owner.get(address).content
    words = markup.words(page)
    assert "Bypass test at the antenna" in words and "two sweeps show whether the device" in words
    assert "Ground clip first" in words and "clear of power lines" in words
    assert [each for each in markup.read(page).all("img") if "/guide/drawings/in_situ" in each.attrs["src"]]
    sent = {**TYPED, "step": "bypass", "antenna_bands": "40m", "sweep": s1p(2000), "sweep_bypassed": s1p(52)}
    assert owner.post(address, sent)["Location"] == address
    pass_over(owner, address, "dc")
    words = markup.words(owner.get(address).content)
    assert "Worse through the device" in words and "Load-match test on the bench" in words
    load = {**TYPED, "step": "load_test", "load_ohm": "50,2", "sweep": s1p(140)}
    assert owner.post(address, load).status_code == 302
    words = markup.words(owner.get(address).content)
    assert (
        "The device transforms wrongly" in words and "It rests on: Load-match test on the bench: Bad" in words
    )
    assert "Something changed since commissioning" in words
    assert "Not known: The line with a dummy load at its far end, Plugs, arrester and ground" in words
    tests = Test.objects.filter(device__key=group.device, kind__in=["in_situ", "load_match"])
    assert FaultStep.objects.count() == tests.count() == 2
    assert Test.objects.get(kind="load_match").settings["load_ohm"] == 50.2


def test_a_downed_wire_ends_it_and_says_so(owner: Client, group: Group):
    address = f"/fault-searches/{group.search}/"
    owner.post(address, {"do": "choose", "step": "ground_look", "choice": "danger"})
    words = markup.words(owner.get(address).content)
    assert "Stay away and call" in words and "Take care" in words


def test_a_choice_is_asked_for(owner: Client, group: Group):
    answer = owner.post(f"/fault-searches/{group.search}/", {"do": "choose", "step": "ground_look"})
    assert answer.status_code == 422 and "Choose one of the answers" in markup.words(answer.content)


def test_a_faulty_file_is_named_with_its_line_and_nothing_is_kept(owner: Client, group: Group):
    address = f"/fault-searches/{group.search}/"
    pass_over(owner, address, *OUTSIDE)
    bad = SimpleUploadedFile("x.s1p", b"# Hz S RI R 50\n1000000 0.1 x\n")
    answer = owner.post(
        address, {**TYPED, "step": "bypass", "antenna_bands": "40m", "sweep": bad, "sweep_bypassed": s1p(52)}
    )
    words = markup.words(answer.content)
    assert answer.status_code == 422 and "line 2" in words
    assert not Test.objects.filter(kind="in_situ").exists()
    missing = owner.post(address, {**TYPED, "step": "bypass", "antenna_bands": "40m", "sweep": s1p(60)})
    assert missing.status_code == 422 and "Device bypassed" in markup.words(missing.content)
    typed = owner.post(
        address, {**TYPED, "measured_on": "soon", "step": "bypass", "antenna_bands": "40m", "sweep": s1p(60)}
    )
    assert typed.status_code == 422 and 'value="soon"' in typed.content.decode()


def test_passing_over_going_back_and_a_known_test(owner: Client, group: Group):
    address = f"/fault-searches/{group.search}/"
    pass_over(owner, address, *OUTSIDE, "bypass", "dc", "load_test")
    page = owner.get(address).content
    assert "Common-mode test on the bench" in markup.words(page) and group.test in page.decode()
    owner.post(address, {"do": "known", "step": "common_mode", "known": group.test})
    assert FaultStep.objects.get().test.key == group.test
    owner.post(address, {"do": "back"})
    assert not FaultStep.objects.exists() and Test.objects.filter(key=group.test).exists()


def test_the_same_step_twice_is_refused_and_said(owner: Client, group: Group):
    address = f"/fault-searches/{group.search}/"
    owner.post(address, {"do": "skip", "step": "ground_look"})
    answer = owner.post(address, {"do": "skip", "step": "ground_look"})
    assert answer.status_code == 422 and "Another step is next" in markup.words(answer.content)


@pytest.mark.parametrize("sent", [{}, {"symptom": "smoke"}])
def test_without_a_symptom(owner: Client, group: Group, sent):
    answer = owner.post(f"/devices/{group.device}/fault-search/", sent)
    assert answer.status_code == 422 and "Say what you see" in markup.words(answer.content)


def test_it_goes_on_another_day(owner: Client, group: Group):
    words = markup.words(owner.get(f"/devices/{group.device}/fault-search/").content)
    assert "The antenna shows a high SWR, 40m" in words and "not ended yet" in words


def test_others_neither_see_nor_touch_it(stranger: Client, group: Group):
    address = f"/fault-searches/{group.search}/"
    assert stranger.get(address).status_code == 404
    for do in ("skip", "back", "remove", "record"):
        assert stranger.post(address, {"do": do, "step": "bypass"}).status_code == 404
    assert FaultSearch.objects.get().answers["steps"] == []


def test_deleting_leaves_the_tests(owner: Client, group: Group):
    owner.post(f"/fault-searches/{group.search}/", {"do": "remove"})
    assert not FaultSearch.objects.exists() and Test.objects.filter(key=group.test).exists()
