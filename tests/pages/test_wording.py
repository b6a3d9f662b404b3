"""Tables and figures of the pages: complete where they must be, and readable."""

from __future__ import annotations

import pytest

from measurements.charts.test_chart import KIND_PANELS
from measurements.pages.designs import presenters as designs_presenters
from measurements.pages.find import presenters as find_presenters
from measurements.pages.guide.contents import ENTRIES
from measurements.pages.intakes import forms
from measurements.pages.layout import figures, procedures, wording
from measurements.pages.tests import presenters as tests_presenters
from measurements.rf.diagnosis.named_causes import CAUSE_CODES
from measurements.services.uploads import uploads
from measurements.verdict.decision_rule import VERDICTS
from tests.charts.samples import BANDS


def test_every_kind_and_method_can_be_uploaded():
    assert {each.kind for each in procedures.PROCEDURES} == set(uploads.KINDS)
    offered = {each.method for each in procedures.PROCEDURES if each.kind == "insertion_loss"}
    assert offered == set(uploads.METHODS)


def test_the_form_asks_for_files_that_exist():
    for procedure in procedures.PROCEDURES:
        roles = [each.role for each in procedure.files]
        assert len(roles) == len(set(roles))
        assert all(role in uploads.ROLES or uploads.PAIR_ROLE.match(role) for role in roles)
        assert set(procedure.settings) <= set(procedures.SETTINGS) <= set(uploads.SETTING_NAMES)


def test_every_kind_has_words_columns_panels_and_a_guide():
    kinds = set(uploads.KINDS)
    assert (
        set(wording.KINDS)
        == set(tests_presenters.COLUMNS)
        == set(tests_presenters.SUMMARY)
        == set(KIND_PANELS)
        == kinds
    )
    assert {entry.kind for entry in ENTRIES} == kinds
    assert set(wording.METHODS) == set(uploads.METHODS)
    assert set(wording.VERDICTS) == set(VERDICTS)
    assert set(wording.CAUSES) == set(CAUSE_CODES)
    assert set(wording.CHART_NOTES) == {
        (kind, panel.name) for kind, panels in KIND_PANELS.items() for panel in panels
    }


def test_no_two_verdicts_share_a_word_or_a_shape():
    for said in (wording.VERDICTS, wording.DECISIONS):
        assert (
            len({each.word for each in said.values()})
            == len({each.shape for each in said.values()})
            == len(said)
        )


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (figures.format_number(None), "–"),
        (figures.format_number(31.25, 1), "31.2"),
        (figures.format_number(-2.0, 1), "−2.0"),
        (figures.format_change(-0.04), "0.0"),
        (figures.format_change(0.04), "0.0"),
        (figures.format_change(-0.06), "−0.1"),
        (figures.format_change(3.0), "+3.0"),
        (figures.format_change(None), "–"),
        (figures.format_significant(12345.0), "12,300"),
        (figures.format_significant(0.04567), "0.0457"),
        (figures.format_significant(-5.5), "−5.5"),
        (figures.format_mhz(7.1e6), "7.1"),
        (figures.format_complex_ohm({"re": 1500.0, "im": -2500.0}), "1,500 − j2,500"),
        (figures.format_complex_ohm({"re": None, "im": None}), "–"),
        (figures.format_microhenry(143e-6), "143"),
        (figures.format_picofarad(2.87e-12), "2.87"),
        (figures.format_kilobytes(36123), "36 kB"),
        (figures.format_percent(0.646), "65 %"),
    ],
)
def test_figures(written: str, expected: str):
    assert written == expected


def evidence(**changes):
    usual = {
        "band": "40m",
        "kind": "common_mode",
        "benchmark_db": 20.0,
        "reason": None,
        "chance": 0.9,
        "verdict": "typically_meets",
        "devices": 8,
        "contributors": 6,
        "passing": 7,
        "share": 0.875,
        "share_low": 0.65,
        "share_high": 0.96,
        "rejection_db": {
            "median": 31.2,
            "p10": 24.0,
            "p25": 28.0,
            "p75": 33.0,
            "p90": 36.0,
            "tolerance_low": 21.0,
            "histogram": [
                {"from": None, "to": 30.0, "devices": 4},
                {"from": 30.0, "to": None, "devices": 4},
            ],
        },
    }
    return {**usual, **changes}


def test_standing_of_members_and_public():
    members = designs_presenters.summarise_evidence(evidence())
    assert (members.count, members.median, members.spread) == (
        "7 of 8 devices pass",
        "31.2",
        "24.0 to 36.0",
    )
    assert members.chance == "9 in 10"
    assert members.percentiles == ("24.0", "28.0", "31.2", "33.0", "36.0")
    assert members.bins == (("below 30.0 dB", "4 devices"), ("30.0 dB and more", "4 devices"))
    unanswered = designs_presenters.summarise_evidence(evidence(verdict=None, chance=None, passing=None))
    assert (unanswered.said.word, unanswered.count) == ("No verdict", "8 devices")
    assert members.sentence == "A build of yours would very likely (9 in 10) meet 20 dB on 40 m."
    hidden = {"median": 31.0, "p10": None, "p90": None, "tolerance_low": None}
    public = designs_presenters.summarise_evidence(
        evidence(devices="5-9", passing=None, chance=None, rejection_db=hidden)
    )
    assert (public.count, public.spread, public.chance) == ("5–9 devices", "–", "–")
    assert public.sentence == ""
    assert public.plot is not None and public.plot.low is None
    none = designs_presenters.summarise_evidence(
        evidence(verdict="not_enough_devices", devices=None, passing=None, share_low=None, rejection_db={})
    )
    assert none.plot is None and none.count == "no devices shown yet"


def test_the_small_picture_is_to_scale():
    plot = designs_presenters.summarise_evidence(evidence()).plot
    scale = designs_presenters.PLOT_WIDTH / designs_presenters.PLOT_TOP_DB
    assert plot.median == pytest.approx(31.2 * scale, abs=0.06)
    assert plot.benchmark == pytest.approx(20 * scale, abs=0.06)
    assert plot.span == pytest.approx(12 * scale, abs=0.11)
    beyond = designs_presenters.summarise_evidence(
        evidence(rejection_db={"median": 80.0, "p10": 70.0, "p25": 75.0, "p75": 85.0, "p90": 90.0})
    ).plot
    assert beyond.median == designs_presenters.PLOT_WIDTH


def test_the_verdict_over_bands():
    def summary(*decisions):
        lines = tuple(
            tests_presenters.BandLine("40m", wording.DECISIONS[each], "whole band", (), "")
            for each in decisions
        )
        badge, words = tests_presenters.summarise_verdicts(lines)
        return badge.look, words

    assert summary("meets") == ("is-meets", "Meets on its one band")
    assert summary("meets", "meets") == ("is-meets", "Meets on both bands")
    assert summary(*["meets"] * 3) == ("is-meets", "Meets on all 3 bands")
    assert summary("meets", "not_judged") == ("is-meets", "Meets on its one band")
    assert summary("meets", "falls_short") == ("is-mixed", "Meets on 1 of 2 bands")
    assert summary("falls_short", "falls_short") == ("is-short", "Falls short on every band")
    assert summary("not_judged") == ("is-few", "Not judged on any band")
    assert summary() == ("is-few", "Not judged on any band")
    # nothing too close to call is drawn as met
    assert summary("too_close", "too_close") == ("is-mixed", "Too close to call on both bands")
    assert summary("meets", "too_close") == ("is-mixed", "Meets on 1 of 2 bands, too close to call on 1")
    assert summary("falls_short", "too_close") == (
        "is-short",
        "Falls short on 1 of 2 bands, too close to call on 1",
    )


@pytest.mark.django_db
def test_a_recipe_in_words():
    recipe = {
        "purpose": "balun",
        "principle": "current",
        "ratio": "4:1",
        "cores": [{"part": "A-1", "shape": "toroid", "mix": "43", "stacked": 2}] * 2,
        "winding": {"turns": 1, "style": "twisted_pair", "split": True, "conductor": "RG-316"},
    }
    assert designs_presenters.describe_recipe(recipe) == (
        ("What it is", "4:1 current balun"),
        ("Cores", "2 times: 2 stacked, each toroid, mix 43, maker's number A-1"),
        ("Winding", "1 turn of twisted pair, RG-316, wound in two halves across the core"),
    )


def test_the_rule_is_logarithmic():
    by_label = {tick.label: tick.x for tick in find_presenters.build_ticks() if tick.label}
    assert by_label["10"] - by_label["5"] == pytest.approx(by_label["20"] - by_label["10"], abs=0.2)
    blocks = find_presenters.build_band_blocks(BANDS)
    assert [block.band for block in blocks] == [band.band for band in BANDS]
    assert all(
        block.x >= 0 and block.x + block.width <= find_presenters.WIDTH + find_presenters.MIN_BLOCK_WIDTH
        for block in blocks
    )


def test_a_sentence_about_the_sweep_begins_like_a_sentence():
    said = procedures.translate_roles(
        "sweep holds no measurement of S12. Send it as sweep_reversed beside sweep."
    )
    assert said.startswith("The sweep holds") and "“The same with the device turned round”" in said


def test_why_a_file_was_refused_is_said_in_the_words_of_the_form():
    given = "Column contributor: Nobody brought it yet. Say whose it is in the column contributor."
    said = forms.translate_columns(given)
    assert said.startswith("Column “Who brought it”: Nobody") and said.endswith(
        "the column “Who brought it”."
    )
    assert forms.translate_columns("A column of figures is missing.") == "A column of figures is missing."
