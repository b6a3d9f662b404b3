"""The guide is complete: every kind, method, file, flag and caution, and every place it points to exists."""

from __future__ import annotations

import re
from datetime import date

import pytest

from measurements.pages.guide import bench_setup, contents, views
from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.page_structure import Section
from measurements.pages.layout import cautions, procedures
from measurements.rf.flags import FLAG_CATALOGUE
from measurements.selectors.reference.reference import BenchmarkRow
from measurements.services.uploads import uploads

SECTIONS = [(entry.kind, section) for entry in contents.ENTRIES for section in entry.sections]
each_section = pytest.mark.parametrize(
    ("kind", "section"), SECTIONS, ids=lambda value: getattr(value, "anchor", value)
)


def test_every_kind_has_a_page():
    assert [entry.kind for entry in contents.ENTRIES] == list(dict.fromkeys(contents.ENTRIES_BY_KIND))
    assert set(contents.ENTRIES_BY_KIND) == set(uploads.KINDS)


def test_every_method_of_the_contract_has_a_section():
    methods = {section.method for section in contents.ENTRIES_BY_KIND["insertion_loss"].sections}
    assert methods == set(uploads.METHODS)
    for kind in set(uploads.KINDS) - {"insertion_loss"}:
        assert [section.method for section in contents.ENTRIES_BY_KIND[kind].sections] == [None]


def test_every_procedure_of_the_form_leads_to_its_section():
    for procedure in procedures.PROCEDURES:
        assert contents.find_section(procedure.kind, procedure.method).method == procedure.method
    with pytest.raises(KeyError):
        contents.find_section("insertion_loss", "by_magic")


@each_section
def test_a_section_says_all_there_is_to_say(kind: str, section: Section):
    for said in (section.title, section.when, section.parts, section.steps, section.result, section.signs):
        assert said
    assert section.drawn
    for role in section.drawn:
        assert catalogue.get_drawing(kind, section.method, role)
    for sign in section.signs:
        assert all(text.endswith((".", ";", "?")) for text in (sign.sees, sign.means, sign.then))


@each_section
def test_the_files_that_must_be_sent_are_drawn_in_their_section(kind: str, section: Section):
    procedure = procedures.find_procedure(kind, section.method)
    if procedure is not None:
        assert {each.role for each in procedure.files if each.required} <= set(section.drawn)


@each_section
def test_resistors_that_are_asked_for_come_with_their_table(kind: str, section: Section):
    procedure = procedures.find_procedure(kind, section.method)
    asked = set(procedure.settings) & {"load_ohm", "series_ohm"} if procedure else set()
    wanted = {"load_ohm": "build_load_table", "series_ohm": "build_series_table"}
    assert {wanted[name] for name in asked} <= {make.__name__ for make in section.tables}


def test_every_choice_leads_to_a_method_and_every_method_is_chosen():
    entry = contents.ENTRIES_BY_KIND["insertion_loss"]
    assert {choice.method for choice in entry.choices} == {section.method for section in entry.sections}


def test_every_limit_of_the_engine_is_named_where_it_applies():
    named = {metric for entry in contents.ENTRIES for _, metric in entry.limits}
    assert named == {"rejection_db", "swr", "loss_db", "amplitude_imbalance_db", "phase_imbalance_deg"}


def test_every_flag_is_explained():
    assert set(contents.FLAG_HELP) == set(FLAG_CATALOGUE)
    assert all(each.kinds and set(each.kinds) <= set(uploads.KINDS) for each in contents.FLAG_HELP.values())


def test_every_flag_leads_to_a_place_that_exists():
    places = {(entry.kind, section.anchor) for entry in contents.ENTRIES for section in entry.sections}
    places |= {(contents.BENCH_TOPIC, topic.anchor) for topic in bench_setup.BENCH_TOPICS} | {
        ("insertion_loss", "choose")
    }
    assert {each.see for each in contents.FLAG_HELP.values()} <= places


def test_flags_of_a_kind_are_parted_by_whether_they_leave_it_out():
    left_out = dict(contents.list_flags_of_kind("common_mode", left_out=True))
    noted = dict(contents.list_flags_of_kind("common_mode", left_out=False))
    assert "looks_like_through" in left_out and "jig_limited" in noted
    assert not set(left_out) & set(noted)
    assert "looks_unterminated" not in {**left_out, **noted}


def test_topics_called_in_passing_exist():
    anchors = {topic.anchor for topic in bench_setup.BENCH_TOPICS}
    assert set(bench_setup.TOPIC_MENTIONS) == anchors
    assert {name for _, section in SECTIONS for name in section.bench} <= anchors


def test_cautions_stand_where_they_apply():
    """Each page of a kind shows the row of its kind in the one table; `test_cautions.py` holds the table."""
    for entry in contents.ENTRIES:
        assert entry.cautions == cautions.list_cautions(entry.kind)
    steps = contents.ENTRIES_BY_KIND["in_situ"].sections[0].steps
    discharge = next(number for number, step in enumerate(steps) if "Discharge" in step)
    join = next(number for number, step in enumerate(steps) if "Join the analyser" in step)
    assert discharge < join


def test_words_of_the_trade():
    """One word per concept: a jig is a jig, and files of the API stay out of most sentences."""
    said = repr((contents.ENTRIES, bench_setup.BENCH_TOPICS, contents.FLAG_HELP))
    assert not re.search(r"fixture|balun tester|common-mode rejection ratio|VNA", said, re.IGNORECASE)


def row(value: float, on: date) -> BenchmarkRow:
    return BenchmarkRow("load_match", "swr", value, "1", "A steward", "house default", on, "")


def test_the_newest_limit_counts_and_says_whose_it_is():
    rows = (row(1.4, date(2026, 5, 1)), row(1.5, date(2026, 1, 1)))
    (found,) = views.describe_limits([("load_match", "swr")], rows)
    assert (found.text, found.source) == ("SWR at most 1.4", "A steward.")


def test_without_a_row_the_engines_own_limit_is_named():
    found = views.describe_limits([("common_mode", "rejection_db"), ("balance", "phase_imbalance_deg")], ())
    assert [each.text for each in found] == [
        "rejection at least 20 dB",
        "phase imbalance at most 10 degrees",
    ]
