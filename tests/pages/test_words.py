"""Tables and figures of the pages: complete where they must be, and readable."""

from __future__ import annotations

import pytest

from measurements.charts.kind_panels import PANELS
from measurements.ingest import uploads
from measurements.pages import bench, cautions, figures, metrics, recipe_words, ruler, standing, words
from measurements.pages.forms import assignment
from measurements.pages.guide.contents import ENTRIES
from measurements.rf.difference_causes import CODES
from measurements.verdict.rule import VERDICTS
from tests.charts.samples import BANDS


def test_every_kind_and_method_can_be_uploaded():
    assert {each.kind for each in bench.PROCEDURES} == set(uploads.KINDS)
    offered = {each.method for each in bench.PROCEDURES if each.kind == "insertion_loss"}
    assert offered == set(uploads.METHODS)


def test_the_form_asks_for_files_that_exist():
    for procedure in bench.PROCEDURES:
        roles = [each.role for each in procedure.files]
        assert len(roles) == len(set(roles))
        assert all(role in uploads.ROLES or uploads.PAIR_ROLE.match(role) for role in roles)
        assert set(procedure.settings) <= set(bench.SETTINGS) <= set(uploads.SETTING_NAMES)


def test_every_kind_has_words_columns_panels_and_a_guide():
    kinds = set(uploads.KINDS)
    assert set(words.KINDS) == set(metrics.COLUMNS) == set(metrics.SUMMARY) == set(PANELS) == kinds
    assert {entry.kind for entry in ENTRIES} == kinds
    assert set(words.METHODS) == set(uploads.METHODS)
    assert set(words.VERDICTS) == set(VERDICTS)
    assert set(words.CAUSES) == set(CODES)
    assert set(words.CHART_NOTES) == {
        (kind, panel.name) for kind, panels in PANELS.items() for panel in panels
    }


def test_no_two_verdicts_share_a_word_or_a_shape():
    for said in (words.VERDICTS, words.OWN):
        assert (
            len({each.word for each in said.values()})
            == len({each.shape for each in said.values()})
            == len(said)
        )


def test_cautions_of_the_trade_are_all_there():
    """Common practice, no source: power, discharge, thunderstorm, power lines, voltage, heat, local codes."""
    said = " ".join(each.text for each in cautions.ALL).lower()
    for word in ("milliwatts", "discharge", "thunderstorm", "power lines", "volts", "burn", "curie", "codes"):
        assert word in said
    assert set(cautions.for_kind("in_situ")) == set(cautions.ALL)
    assert all(cautions.POWER in cautions.for_kind(kind) for kind in uploads.KINDS)
    assert all(cautions.POWER in entry.cautions for entry in ENTRIES)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (figures.plain(None), "–"),
        (figures.plain(31.25, 1), "31.2"),
        (figures.plain(-2.0, 1), "−2.0"),
        (figures.change(-0.04), "0.0"),
        (figures.change(0.04), "0.0"),
        (figures.change(-0.06), "−0.1"),
        (figures.change(3.0), "+3.0"),
        (figures.change(None), "–"),
        (figures.short(12345.0), "12,300"),
        (figures.short(0.04567), "0.0457"),
        (figures.short(-5.5), "−5.5"),
        (figures.mhz(7.1e6), "7.1"),
        (figures.complex_ohm({"re": 1500.0, "im": -2500.0}), "1,500 − j2,500"),
        (figures.complex_ohm({"re": None, "im": None}), "–"),
        (figures.microhenry(143e-6), "143"),
        (figures.picofarad(2.87e-12), "2.87"),
        (figures.kilobytes(36123), "36 kB"),
        (figures.percent(0.646), "65 %"),
    ],
)
def test_figures(written: str, expected: str):
    assert written == expected


def evidence(**changes):
    usual = {
        "band": "40m",
        "benchmark_db": 20.0,
        "verdict": "typically_meets",
        "devices": 8,
        "contributors": 6,
        "passing": 7,
        "share": 0.875,
        "share_low": 0.65,
        "share_high": 0.96,
        "rejection_db": {"median": 31.2, "p10": 24.0, "p90": 36.0, "tolerance_low": 21.0},
    }
    return {**usual, **changes}


def test_standing_of_members_and_public():
    members = standing.of(evidence())
    assert (members.count, members.median, members.range_db) == (
        "7 of 8 devices pass",
        "31.2",
        "24.0 to 36.0",
    )
    hidden = {"median": 31.0, "p10": None, "p90": None, "tolerance_low": None}
    public = standing.of(evidence(devices="5-9", passing=None, share_low=None, rejection_db=hidden))
    assert (public.count, public.range_db, public.share) == ("5–9 devices", "–", "–")
    assert public.plot is not None and public.plot.low is None
    none = standing.of(
        evidence(verdict="not_enough_devices", devices=None, passing=None, share_low=None, rejection_db={})
    )
    assert none.plot is None and none.count == "no devices shown yet"


def test_the_small_picture_is_to_scale():
    plot = standing.of(evidence()).plot
    scale = standing.PLOT_WIDTH / standing.PLOT_TOP_DB
    assert plot.median == pytest.approx(31.2 * scale, abs=0.06)
    assert plot.benchmark == pytest.approx(20 * scale, abs=0.06)
    assert plot.span == pytest.approx(12 * scale, abs=0.11)
    beyond = standing.of(evidence(rejection_db={"median": 80.0, "p10": 70.0, "p90": 90.0})).plot
    assert beyond.median == standing.PLOT_WIDTH


def test_the_verdict_over_bands():
    def line(meets):
        return metrics.BandLine("40m", words.OWN[meets], "whole band", (), "")

    assert metrics.overall((line(True),))[1] == "Meets on its one band"
    assert metrics.overall((line(True), line(True)))[1] == "Meets on both bands"
    assert metrics.overall((line(True),) * 3)[1] == "Meets on all 3 bands"
    assert metrics.overall((line(True), line(None)))[1] == "Meets on its one band"
    assert metrics.overall((line(True), line(False)))[1] == "Meets on 1 of 2 bands"
    assert metrics.overall((line(False), line(False)))[1] == "Falls short on every band"
    assert metrics.overall((line(None),))[1] == "Not judged on any band"
    assert metrics.overall(()) == (words.OWN[None], "Not judged on any band")


def test_a_recipe_in_words():
    recipe = {
        "purpose": "balun",
        "principle": "current",
        "ratio": "4:1",
        "cores": [{"part": "A-1", "shape": "toroid", "mix": "43", "stacked": 2}] * 2,
        "winding": {"turns": 1, "style": "twisted_pair", "split": True, "conductor": "RG-316"},
    }
    assert recipe_words.lines(recipe) == (
        ("What it is", "4:1 current balun"),
        ("Cores", "2 times: 2 stacked, each toroid A-1, mix 43"),
        ("Winding", "1 turn of twisted pair, RG-316, wound in two halves across the core"),
    )


def test_the_rule_is_logarithmic():
    by_label = {tick.label: tick.x for tick in ruler.ticks() if tick.label}
    assert by_label["10"] - by_label["5"] == pytest.approx(by_label["20"] - by_label["10"], abs=0.2)
    blocks = ruler.blocks(BANDS)
    assert [block.band for block in blocks] == [band.band for band in BANDS]
    assert all(block.x >= 0 and block.x + block.width <= ruler.WIDTH + ruler.NARROWEST for block in blocks)


def test_a_sentence_about_the_sweep_begins_like_a_sentence():
    said = bench.in_words("sweep holds no measurement of S12. Send it as sweep_reversed beside sweep.")
    assert said.startswith("The sweep holds") and "“The same with the device turned round”" in said


def test_why_a_file_was_refused_is_said_in_the_words_of_the_form():
    given = "Column contributor: Nobody brought it yet. Say whose it is in the column contributor."
    said = assignment.in_words(given)
    assert said.startswith("Column “Who brought it”: Nobody") and said.endswith(
        "the column “Who brought it”."
    )
    assert assignment.in_words("A column of figures is missing.") == "A column of figures is missing."
