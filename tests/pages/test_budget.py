"""Every page keeps its budget, for every reader, whatever the group holds: queries, kilobytes and elements.

The budget: 15 queries, 30 kB of HTML by gzip, 1,500 elements. Milliseconds depend on the machine;
`python -m deploy.benchmarks.pages` prints them. The ground is `visits`: a new page is measured by itself.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from deploy.benchmarks.group import GroupSize, fill_group
from deploy.benchmarks.pages import PageFigures, format_figures, measure_page
from measurements.services.releases import releases
from tests.pages.full_group import House, furnish
from tests.pages.test_query_counts import addresses
from tests.pages.visits import VISITS

MOST_QUERIES, MOST_BYTES, MOST_NODES = 15, 30 * 1024, 1500
# enough for every list to have a second page; the member has 60 devices, the night 40
SMALL = GroupSize(
    designs=40, devices=200, tests=400, accounts=30, own=60, nights=30, night=40, log=120, windings=4
)
LARGER = replace(SMALL, designs=60, devices=300, tests=900, accounts=60, own=90)

# over the budget of queries, with what they need now: each may only fall
MORE_QUERIES = {
    "device": 33,
    "report": 28,
    "night": 19,
    "night_summary": 17,
    "night_jig": 18,
    "intake_file": 17,
}
# over the budget of bytes or elements: sheets for the printer with a card for each device of the night
LARGE = frozenset({"night_cards"})


@pytest.fixture
def house(reference_data: None) -> House:
    return furnish()


def measure(house: House) -> dict[tuple[str, str], PageFigures]:
    """Figures of every visit, the second time that somebody comes."""
    for _ in range(2):
        found = {
            (who, address): measure_page(house.clients[who], address) for who, address in addresses(house)
        }
    return found


def fill(house: House, size: GroupSize, first: int) -> None:
    fill_group(
        size,
        member=int(house.viewers["member"].member_id or 0),
        operator=int(house.viewers["operator"].member_id or 0),
        night=house.keys["night"],
        first=first,
    )
    releases.make_release(files=False)


def test_every_page_keeps_its_budget_and_grows_with_nothing(house: House):
    fill(house, SMALL, 100)
    few = measure(house)
    fill(house, LARGER, 200)
    many = measure(house)
    pages = _name_pages(house)
    over = [
        f"{pages[key]:<16} {key[0]:<9} {format_figures(figures)} {key[1]}"
        for key, figures in many.items()
        if figures.queries > MORE_QUERIES.get(pages[key], MOST_QUERIES)
        or (pages[key] not in LARGE and (figures.compressed > MOST_BYTES or figures.nodes > MOST_NODES))
    ]
    grown = [
        f"{key}: {few[key].queries} -> {figures.queries} queries"
        for key, figures in many.items()
        if figures.queries > few[key].queries
    ]
    assert not over + grown, "\n".join(over + grown)


def _name_pages(house: House) -> dict[tuple[str, str], str]:
    named = {
        (visit.who, visit.address.format(**house.keys)): page
        for page, visits in VISITS.items()
        for visit in visits
    }
    return {key: named.get(key, "others") for key in addresses(house)}
