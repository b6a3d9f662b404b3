"""Two years of releases through the real services: people join, leave, test again and withdraw, at random.

The private ledger says which tests stand behind each release; the tests here know whose each is, and so can
ask what the rule promises: no two releases differ by fewer than `min_joiners` people, what is
withdrawn is in nothing that is published anew, and nobody who leaves darkens a design.
"""

from __future__ import annotations

import itertools
import json
import random
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta

import pytest

from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.models import PublishedVote
from measurements.selectors.evidence import evidence
from measurements.selectors.releases import release_files
from measurements.services.releases import releases
from measurements.services.tests import tests as tests_services
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
RELEASES = 24
POINTS = 51
PEOPLE = 24
Sample = str  # the key of a test behind what was published


@dataclass
class World:
    """Who has which device of which design, and whose each figure is."""

    rng: random.Random
    designs: tuple[str, ...]
    reader: Viewer
    people: list[Viewer] = field(default_factory=list)
    devices: dict[tuple[str, str], str] = field(default_factory=dict)  # (person, design): device
    live: dict[str, tuple[str, str]] = field(default_factory=dict)  # test: (person, design)
    whose: dict[Sample, tuple[str, str]] = field(default_factory=dict)  # test: (person, test)
    withdrawn: set[str] = field(default_factory=set)
    seeds: itertools.count = field(default_factory=lambda: itertools.count(5000))
    day: date = date(2024, 1, 5)

    def test(self, person: Viewer, design: str) -> None:
        """Joins, or tests again."""
        known = self.devices.get((person.name, design))
        tag = f"{person.name}-{design}"
        device = known or factories.device(person, design, tag=tag)
        self.devices[person.name, design] = device
        seed = next(self.seeds)
        sweep = factories.choke_s2p(2000 + 2000 * self.rng.random(), seed=seed, points=POINTS)
        key = factories.record(person, device, sweep, measured_on=self.day)
        self.live[key], self.whose[key] = (person.name, design), (person.name, key)

    def leave(self, person: Viewer, design: str) -> None:
        """Withdraws every test of a device."""
        for key in [key for key, whose in self.live.items() if whose == (person.name, design)]:
            tests_services.withdraw_test(by=person, test=key)
            self.withdrawn.add(key)
            del self.live[key]

    def withdraw_newest(self, person: Viewer, design: str) -> None:
        """Takes back one test; an older one of the device may vote again."""
        own = [key for key, whose in self.live.items() if whose == (person.name, design)]
        tests_services.withdraw_test(by=person, test=own[-1])
        self.withdrawn.add(own[-1])
        del self.live[own[-1]]

    def month(self) -> None:
        """What happens between two releases."""
        self.day += timedelta(days=29)
        for design in self.designs:
            for _ in range(self.rng.choice((0, 1, 1, 2, 3, 4))):
                person = self.rng.choice(self.people)
                there = (person.name, design) in self.live.values()
                happening = self.rng.choice(("leave", "again", "again", "take back")) if there else "join"
                if happening == "leave":
                    self.leave(person, design)
                elif happening == "take back":
                    self.withdraw_newest(person, design)
                else:
                    self.test(person, design)


@dataclass
class Kept:
    """One release: the tests behind each design, devices as a member reads them, the world at that moment."""

    number: int
    samples: dict[str, frozenset[Sample]]
    owners_told: dict[str, set[Sample]]
    withdrawn: frozenset[str]
    counted: dict[str, int]


def keep(world: World, number: int) -> Kept:
    """Read what stands behind a release, and how many devices a member reads of each design."""
    samples: dict[str, set[Sample]] = {}
    votes = PublishedVote.objects.filter(cell__band="", cell__last_release=None)
    for design, test in votes.values_list("cell__design__key", "test_key"):
        samples.setdefault(design, set()).add(test)
    told = {
        person.name: {row.test for row in evidence.list_published_rows(person)} for person in world.people
    }
    lines = release_files.get_file_content(world.reader, number, "evidence.ndjson")[1].decode().splitlines()
    counted = {row["design"]: row["devices"] for row in map(json.loads, lines) if row["band"] == "40m"}
    kept = {design: frozenset(found) for design, found in samples.items()}
    return Kept(number, kept, told, frozenset(world.withdrawn), counted)


@dataclass
class History:
    world: World
    kept: list[Kept]
    actions: Counter


def run(seed: int) -> History:
    rng = random.Random(seed)
    people = [factories.member(f"member-{seed}-{number}") for number in range(PEOPLE)]
    designs = tuple(factories.design(people[0], turns=turns) for turns in (9, 11))
    world = World(rng, designs, factories.member("reader"), people)
    for design in designs:
        for person in rng.sample(people, 5):
            world.test(person, design)
    kept, actions = [], Counter()
    for _ in range(RELEASES):
        made = releases.make_release(rng=rng)
        actions.update(replaced=made.replaced, kept=made.kept, withheld=made.withheld)
        kept.append(keep(world, made.number))
        world.month()
    return History(world, kept, actions)


@pytest.fixture(scope="module")
def history(django_db_setup, django_db_blocker):
    from django.db import transaction

    from measurements.services.reference import reference_files

    with django_db_blocker.unblock(), transaction.atomic():
        reference_files.load_reference_data()
        yield run(seed=20)
        transaction.set_rollback(True)


@pytest.fixture
def past(history: History, db) -> History:
    return history


def test_the_two_years_hold_every_way_a_design_can_go(past: History):
    """Without these the promises below would hold of nothing."""
    assert past.actions["replaced"] >= 5 and past.actions["kept"] >= 5 and past.actions["withheld"] == 0
    assert len(past.world.withdrawn) >= 10
    assert sum(len(kept.samples) for kept in past.kept) >= RELEASES // 2


def test_every_published_sample_is_one_live_vote(past: History):
    for kept in past.kept:
        for design, samples in kept.samples.items():
            owners = [past.world.whose[sample][0] for sample in samples]
            assert len(owners) == len(set(owners)) >= DEFAULT_THRESHOLDS.min_contributors, (
                kept.number,
                design,
            )
        assert kept.counted == {design: len(samples) for design, samples in kept.samples.items()}


def test_no_two_releases_differ_by_fewer_people_than_the_rule_says(past: History):
    """Each release against every other, not only its neighbour: whoever kept one keeps it for ever."""
    compared = changed = 0
    for older, newer in itertools.combinations(past.kept, 2):
        for design in older.samples.keys() & newer.samples.keys():
            differing = older.samples[design] ^ newer.samples[design]
            people = {past.world.whose[sample][0] for sample in differing}
            assert len(people) == 0 or len(people) >= DEFAULT_THRESHOLDS.min_joiners, (
                older.number,
                newer.number,
            )
            compared, changed = compared + 1, changed + bool(people)
    assert compared > 100 and changed > 50


def test_what_is_withdrawn_is_in_nothing_that_is_published_anew(past: History):
    renewed = 0
    for before, kept in itertools.pairwise(past.kept):
        for design, samples in kept.samples.items():
            if samples == before.samples.get(design):
                continue
            renewed += 1
            assert not {past.world.whose[sample][1] for sample in samples} & kept.withdrawn, kept.number
    assert renewed >= 3


def test_who_leaves_darkens_nothing(past: History):
    """A design that was published once is published in every later release, and no file is emptied."""
    for before, kept in itertools.pairwise(past.kept):
        assert before.samples.keys() <= kept.samples.keys()
    for kept in past.kept:
        for viewer, name in ((past.world.reader, "evidence.csv"), (ANONYMOUS, "evidence.csv")):
            assert release_files.get_file_content(viewer, kept.number, name)[1]


def test_owners_are_told_exactly_what_is_published_of_them(past: History):
    for kept in past.kept:
        shown: dict[str, set[Sample]] = {}
        for sample in itertools.chain.from_iterable(kept.samples.values()):
            if past.world.whose[sample][1] in kept.withdrawn:
                continue  # its figures are deleted here; only the frozen cell still holds them
            shown.setdefault(past.world.whose[sample][0], set()).add(sample)
        told = {name: samples for name, samples in kept.owners_told.items() if samples}
        assert told == shown, kept.number
