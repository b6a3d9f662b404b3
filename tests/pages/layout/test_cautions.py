"""Each danger where it is, none where it is not: the table of cautions both ways, and the pages that show it.

Where a danger is: trade.md 11 of this project (trade practice, no source).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.test import Client

from measurements.fitness.fault_search import STEP_KINDS
from measurements.pages.guide.topics.catalogue import PAGES_BY_SLUG
from measurements.pages.layout import cautions
from measurements.services.uploads.uploads import KINDS
from tests.pages import markup

ROOT = Path(__file__).resolve().parents[3]
# what somebody touches or does at each step; the dangers follow from it, written here a second time
WORK = {
    "outdoors": {
        "search.ground_look",
        "search.line",
        "search.inspection",
        "search.bypass",
        "search.begin",
        "search.danger",
        "search.dc",
        "search.load_test",
        "search.common_mode",
        "in_situ",
        "inspect",
        "due",
        "guide.after_storm",
        "guide.feed_line",
        "guide.commissioning",
    },
    "storm": {"search.begin", "search.ground_look", "search.danger", "due", "guide.after_storm"},
    "line_or_antenna_joined": {
        "search.begin",
        "search.shack_sweep",
        "search.line",
        "search.line_parts",
        "search.inspection",
        "search.bypass",
        "search.dc",
        "search.load_test",
        "search.common_mode",
        "in_situ",
        "dc",
        "inspect",
        "due",
        "guide.after_storm",
        "guide.feed_line",
        "guide.opening",
        "guide.commissioning",
    },
    "arrester": {"search.line_parts", "guide.after_storm", "guide.feed_line"},
    "was_transmitting": {
        "search.inspection",
        "search.dc",
        "search.load_test",
        "search.common_mode",
        "search.end",
        *("common_mode", "load_match", "insertion_loss", "balance", "dc", "inspect", "night", "report"),
        "guide.bench",
        "guide.service",
        "guide.first_choke",
        "guide.opening",
        "guide.commissioning",
        "guide.winding_unun",
        "guide.four_to_one",
    },
    "wire_under_tension": {
        "search.inspection",
        "search.bypass",
        "search.dc",
        "search.load_test",
        "search.common_mode",
        "in_situ",
        "inspect",
        "guide.after_storm",
        "guide.opening",
        "guide.commissioning",
    },
    "bare_ferrite": {
        "search.inspection",
        "common_mode",
        "load_match",
        "insertion_loss",
        "balance",
        "inspect",
        "night",
        "identify_core",
        "guide.bench",
        "guide.first_choke",
        "guide.opening",
        "guide.winding_unun",
        "guide.four_to_one",
    },
    "power_is_near": {
        "search.end",
        "insertion_loss",
        "design",
        "card",
        "report",
        "guide.service",
        "guide.commissioning",
        "guide.comparing",
        "guide.winding_unun",
        "guide.four_to_one",
        "guide.which_test",
    },
}
DANGERS = {
    cautions.DOWNED_WIRES: WORK["storm"],
    cautions.CLEARANCE: WORK["outdoors"],
    cautions.THUNDERSTORM: WORK["outdoors"] | {"search.shack_sweep", "search.line_parts"},
    cautions.TRANSMITTERS: (WORK["line_or_antenna_joined"] | {"guide.calibrating"}),
    cautions.DISCHARGE: WORK["line_or_antenna_joined"],
    cautions.ARRESTER: WORK["arrester"],
    cautions.HEAT: WORK["was_transmitting"],
    cautions.TENSION: WORK["wire_under_tension"],
    cautions.SPLINTERS: WORK["bare_ferrite"],
    cautions.POWER: WORK["power_is_near"],
    cautions.CODES: {"search.bypass", "in_situ", "report", "guide.after_storm", "guide.commissioning"},
}


@pytest.mark.parametrize("danger", cautions.ALL_CAUTIONS, ids=lambda each: each.title)
def test_each_danger_is_where_it_is_and_nowhere_else(danger):
    said = {step for step, found in cautions.CAUTIONS_BY_STEP.items() if danger in found}
    assert said == DANGERS[danger]


def test_every_step_and_kind_has_a_row():
    rows = set(cautions.CAUTIONS_BY_STEP)
    assert {f"search.{step}" for step in STEP_KINDS} <= rows and set(KINDS) <= rows
    assert set(DANGERS) == set(cautions.ALL_CAUTIONS)


def test_the_cautions_of_the_trade_are_all_there():
    said = " ".join(each.text for each in cautions.ALL_CAUTIONS).lower()
    for words in (
        "live until the utility says otherwise",
        "fall plus 3 m (10 ft)",
        "in or before a thunderstorm",
        "lower the antenna instead",
        "every other one",
        "neighbouring antenna",
        "ground clip first",
        "both legs",
        "within minutes",
        "100 kilohm",
        "failed shorted or leaky",
        "700 v peak",
        "130 °c",
        "eye protection",
        "milliwatts",
        "local codes",
    ):
        assert words in said, words


def test_no_page_names_a_caution_past_the_table():
    """A page asks the table by step; only the table module names single cautions."""
    for path in (ROOT / "measurements" / "pages").rglob("*.py"):
        if path.name == "cautions.py" or "predictions" in path.parts:
            continue
        found = re.findall(r"cautions\.([A-Z_]+)\b", path.read_text(encoding="utf-8"))
        assert set(found) <= {"POWER"}, path  # the card of a device has room for one


@pytest.mark.parametrize(
    ("address", "step"),
    [
        ("/guide/common_mode/", "common_mode"),
        ("/guide/in_situ/", "in_situ"),
        ("/guide/flags/", "guide.flags"),
        ("/guide/insertion_loss/", "insertion_loss"),
        ("/guide/bench/", "guide.bench"),
        ("/guide/service/", "guide.service"),
        ("/guide/", "guide"),
        *((f"/guide/{slug}/", f"guide.{slug}") for slug in PAGES_BY_SLUG),
        ("/guide/dc/", "dc"),
    ],
)
def test_a_page_shows_its_row_and_no_other_danger(client: Client, reference_data: None, address, step):
    words = markup.words(client.get(address).content)
    shown = {each for each in cautions.ALL_CAUTIONS if each.text in words}
    assert shown == set(cautions.list_cautions(step))
