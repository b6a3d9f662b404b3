"""A year of releases in which guests join through club nights and become members by their code, at random.

Who is one person with whom is known only after a claim. From then on every release counts so, against every
earlier one: that is asked here at each release, with what is known at its moment.
"""

from __future__ import annotations

import itertools
import random
from collections import Counter
from dataclasses import dataclass, field

import pytest

from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.viewers import Viewer
from measurements.services.devices import devices
from measurements.services.nights import guests, nights, persons
from measurements.services.releases import releases
from measurements.services.tests import tests as tests_services
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories
from tests.disclosure_end_to_end.test_24_releases import Kept, World, keep

pytestmark = pytest.mark.usefixtures("reference_data")
RELEASES = 12
POINTS = 51


@dataclass
class Club(World):
    """The same, with a night whose guests have no account until they claim."""

    operator: Viewer | None = None
    steward: Viewer | None = None
    night: str = ""
    waiting: dict[str, str] = field(default_factory=dict)  # guest: key on the night's list
    claims: int = 0

    def guest_joins(self, design: str) -> None:
        name = f"guest {len(self.whose)}"
        person = guests.add_attendee(by=self.operator, night=self.night, name=name).key
        device = devices.register_device(
            by=self.operator, design=design, tag=f"{name} {design}", contributor=(self.night, person)
        ).key
        peak_ohm = 2000 + 2000 * self.rng.random()
        sweep = factories.choke_s2p(peak_ohm, seed=next(self.seeds), points=POINTS)
        key = tests_services.record_test(
            by=self.operator,
            device=device,
            uploads={"sweep": Upload("s.s2p", sweep)},
            settings=parse_settings(
                {"kind": "common_mode", "calibrated": "true", "recipe_confirmed": "true"}
            ),
            measured_on=self.day,
            night=self.night,
        ).key
        persons.confirm_guests(by=self.steward, night=self.night)
        self.waiting[name] = person
        self.live[key] = (name, design)
        self.whose[key] = (name, key)

    def guest_claims(self) -> None:
        name, person = self.waiting.popitem()
        member = self.rng.choice(self.people)
        code = guests.issue_claim_code(by=self.operator, night=self.night, contributor_key=person)
        assert guests.claim_guest_devices(by=member, code=code) == 1
        self.live = {k: (member.name if who == name else who, d) for k, (who, d) in self.live.items()}
        self.whose = {s: (member.name if who == name else who, k) for s, (who, k) in self.whose.items()}
        self.claims += 1

    def month(self) -> None:
        super().month()
        for design in self.designs:
            for _ in range(self.rng.choice((0, 1, 2))):
                self.guest_joins(design)
        for _ in range(self.rng.choice((0, 1, 2))):
            if self.waiting:
                self.guest_claims()


def people_of(world: World, samples) -> set[str]:
    return {world.whose[sample][0] for sample in samples}


def check(world: World, newest: Kept, earlier: list[Kept], compared: Counter) -> None:
    """What the rule promises of this release, with whoever is known now to be one person."""
    for design, samples in newest.samples.items():
        assert len(people_of(world, samples)) >= DEFAULT_THRESHOLDS.min_contributors, (newest.number, design)
        for older in earlier:
            if design in older.samples:
                differing = people_of(world, older.samples[design] ^ samples)
                assert len(differing) == 0 or len(differing) >= DEFAULT_THRESHOLDS.min_joiners, (
                    older.number,
                    newest.number,
                )
                compared[bool(differing)] += 1


@pytest.mark.parametrize("seed", [3, 8])
def test_no_release_counts_a_guest_and_the_member_who_claimed_as_two(seed: int):
    rng = random.Random(seed)
    people = [factories.member(f"member-{number}") for number in range(4)]
    operator = factories.member("Osric", "operator")
    designs = tuple(factories.design(people[0], turns=turns) for turns in (9, 11))
    club = Club(rng, designs, factories.member("reader"), people, operator=operator)
    club.steward = factories.member("Stella", "steward")
    club.night = nights.open_night(by=operator, held_on=club.day).key
    for design, _ in itertools.product(designs, range(2)):
        club.guest_joins(design)
        club.test(rng.choice(people), design)
    kept: list[Kept] = []
    compared: Counter = Counter()
    actions: Counter = Counter()
    for _ in range(RELEASES):
        made = releases.make_release(rng=rng)
        actions.update(replaced=made.replaced, kept=made.kept, withheld=made.withheld)
        newest = keep(club, made.number)
        check(club, newest, kept, compared)
        kept.append(newest)
        club.month()
    # without these the promise would hold of nothing
    assert club.claims >= 5 and actions["replaced"] >= 3 and actions["kept"] >= 2, actions
    assert compared[True] > 15, compared
