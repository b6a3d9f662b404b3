"""The page of a test, its files, its chart, and withdrawing it."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.test import Client

from measurements.selectors.tests import tests
from measurements.services.releases import releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group


def test_verdict_figures_and_place_are_those_of_the_result(owner: Client, group: Group):
    row = tests.get_test(group.owner, group.test)
    band = next(each for each in row.result["bands"] if each["band"] == "40m")
    words = markup.words(owner.get(f"/tests/{group.test}/").content)
    judged = [each for each in row.result["bands"] if each["meets"] is not None]
    meeting = [each for each in judged if each["meets"]]
    assert f"Meets on {len(meeting)} of {len(judged)} bands" in words
    worst, spread = band["rejection_db"]["worst"], band["uncertainty"]["rejection_db"]
    assert f"{worst:.1f} ± {spread:.1f} dB" in words
    assert "7 devices" in words and "the median" in words
    assert "counts as evidence and is in the current release" in words


def test_flags_are_said_in_plain_words(owner: Client, group: Group):
    key = factories.record(
        group.owner, group.device, factories.choke_s2p(seed=5), name="other.s2p", calibrated="false"
    )
    words = markup.words(owner.get(f"/tests/{key}/").content)
    assert "Left out of evidence. This test was declared uncalibrated." in words
    assert "out of evidence: the reasons stand above" in words


def test_a_curve_that_contradicts_its_recipe_is_said_and_can_be_confirmed(owner: Client, group: Group):
    # 63 uH by construction of the sweep (10 MHz with 4 pF), where 12 turns of mix 31 are about 250
    doubted = factories.record(
        group.owner, group.device, factories.choke_s2p(seed=71), name="doubted.s2p", recipe_confirmed=""
    )
    words = markup.words(owner.get(f"/tests/{doubted}/").content)
    assert "The curve contradicts the recipe" in words and "waits outside the evidence" in words
    assert "its curve contradicts the recipe, and nobody has confirmed that yet" in words
    assert "100 %" not in words
    answer = owner.post(f"/tests/{doubted}/recipe/", follow=True)
    words = markup.words(answer.content)
    assert "You have confirmed the recipe." in words and "This test counts as evidence" in words


def test_nobody_else_confirms_a_recipe(stranger: Client, group: Group):
    assert stranger.post(f"/tests/{group.test}/recipe/").status_code == 404


def test_role_names_of_the_api_do_not_reach_sentences(owner: Client, group: Group):
    strong = factories.choke_s2p(peak_ohm=20_000, seed=6)  # so much that the jig may be its limit
    key = factories.record(group.owner, group.device, strong, name="strong.s2p")
    words = markup.words(owner.get(f"/tests/{key}/").content)
    assert "send it as jig_open" not in words and "jig_open" not in words
    assert "“Jig with nothing attached”" in words


def test_the_file_comes_back_unchanged(owner: Client, group: Group):
    answer = owner.get(f"/tests/{group.test}/sweeps/sweep/")
    sent = factories.choke_s2p(seed=99)
    assert answer.content == sent
    assert answer["Content-Disposition"] == f'attachment; filename="{group.test}-sweep.s2p"'
    assert hashlib.sha256(sent).hexdigest() in markup.words(owner.get(f"/tests/{group.test}/").content)
    assert owner.get(f"/tests/{group.test}/sweeps/jig_open/").status_code == 404


def test_a_file_name_cannot_break_the_header(owner: Client, group: Group):
    name = 'x"; filename*=y\u00e9.s2p'
    key = factories.record(group.owner, group.device, factories.choke_s2p(seed=6), name=name)
    header = owner.get(f"/tests/{key}/sweeps/sweep/")["Content-Disposition"]
    assert header == f'attachment; filename="{key}-sweep.s2p"'


@pytest.mark.parametrize("view", ["rejection", "impedance", "all"])
def test_its_chart(owner: Client, group: Group, view: str):
    spec = json.loads(owner.get(f"/tests/{group.test}/chart.json?view={view}").content)
    assert ("vconcat" in spec) == (view == "all")
    assert owner.get(f"/tests/{group.test}/chart.svg?view={view}")["Content-Type"].startswith("image/svg")


def test_its_chart_has_no_other_panels(owner: Client, group: Group):
    assert owner.get(f"/tests/{group.test}/chart.json?view=swr").status_code == 400


def test_where_it_stands_says_when_a_curve_is_usual(owner: Client, group: Group):
    words = markup.words(owner.get(f"/tests/{group.test}/").content)
    # seven people tested the design: its range is a detail that ten allow
    assert "Where it stands" in words and "needs a sweep with phase and ten people" in words
    assert "points to" not in words


def test_where_it_stands_says_why_a_curve_may_be_unusual(owner: Client, group: Group):
    factories.evidence(7, first=6)
    releases.make_release()
    usual = markup.words(owner.get(f"/tests/{group.test}/").content)
    assert "stays within the range of its design's devices" in usual and "points to" not in usual
    weak = factories.choke_s2p(peak_ohm=300, seed=41)  # of the same coil: 333 ohm lie across it
    key = factories.record(group.owner, group.device, weak, name="weak.s2p")
    words = markup.words(owner.get(f"/tests/{key}/").content)
    assert "leaves the range of its design's devices" in words
    assert "A leak across the winding. " in words and "330 ohm lay across the winding" in words


@pytest.mark.parametrize("view", ["rejection", "impedance"])
def test_its_curve_over_the_range_of_its_design(owner: Client, group: Group, view: str):
    spec = json.loads(owner.get(f"/tests/{group.test}/standing.json?view={view}").content)
    assert "10 to 90 % range" in spec["description"]
    assert owner.get(f"/tests/{group.test}/standing.svg?view={view}")["Content-Type"].startswith("image/svg")


def test_nothing_is_drawn_beside_a_design_without_evidence(stranger: Client, group: Group):
    key = factories.record(
        group.stranger, factories.device(group.stranger, factories.design(group.stranger, turns=7))
    )
    assert stranger.get(f"/tests/{key}/standing.json").status_code == 404
    words = markup.words(stranger.get(f"/tests/{key}/").content)
    assert "Too few people have tested devices of this design" in words


def test_withdrawing_asks_first_and_says_what_follows(owner: Client, group: Group):
    address = f"/tests/{group.test}/withdraw/"
    words = markup.words(owner.get(address).content)
    assert "cannot be brought back" in words and "cannot be recalled" in words
    assert owner.get(f"/tests/{group.test}/").status_code == 200
    answer = owner.post(address)
    assert answer.status_code == 302 and answer["Location"] == f"/devices/{group.device}/"
    assert "The test is withdrawn" in markup.words(owner.get(answer["Location"]).content)
    assert owner.get(f"/tests/{group.test}/").status_code == 404


def test_a_stranger_cannot_withdraw_it(stranger: Client, owner: Client, group: Group):
    assert stranger.post(f"/tests/{group.test}/withdraw/").status_code == 404
    assert owner.get(f"/tests/{group.test}/").status_code == 200


def test_heat_is_cautioned_about(owner: Client, group: Group):
    assert "hot enough to burn you" in markup.words(owner.get(f"/tests/{group.test}/").content)


def test_an_impossible_loss_is_neither_judged_nor_shown(owner: Client, group: Group):
    # a plain through filed as 4:1 with a series resistor that was never there: -6.02 dB
    key = factories.record(
        group.owner,
        group.device,
        factories.through_s2p(),
        name="forgotten.s2p",
        kind="insertion_loss",
        method="series_resistor",
        ratio="4:1",
        series_ohm="150",
        calibrated="true",
    )
    reply = owner.get(f"/tests/{key}/")
    words = markup.words(reply.content)
    assert "Not judged: check the resistor, the ratio and which file is which" in words
    figures = reply.content.decode().split("The figures")[1].split("</table>")[0]
    assert "-6.0" not in figures and "−6.0" not in figures
    assert b'class="cell is-meets"' not in reply.content


def test_a_bypass_test_without_bands_is_never_said_to_fall_short():
    from measurements.pages.tests import presenters

    band = {"band": "40m", "coverage": "full", "meets": None, "finding": None, "swr_through": {"worst": 3.0}}
    result = {"kind": "in_situ", "method": "in_situ", "bands": [band], "summary": {"finding": None}}
    badge, said = presenters.summarise_result(result)
    assert badge.word == "Cannot tell" and "Figures only" in said
