"""What readers, stewards of a club and two clubs together can take out of everything that a pool publishes.

Exact linear algebra over random histories, which knows nothing of the rule: a person is given away where some
sum or difference of published sets touches that person alone. Planted values in records are looked for in
`tests/services/pooling/test_planted_values.py`. THREATS.md states what is left.
"""

from __future__ import annotations

import itertools

from tests.disclosure import pool_worlds
from tests.disclosure.test_pooled_rule import publish_whatever_is_sent

HISTORIES = range(300, 330)


def count_given_away(**habits) -> dict[str, int]:
    """Count persons whom everybody, one club, and two clubs together read; of how many persons in all."""
    found = dict.fromkeys(("persons", "a reader", "one club", "two clubs"), 0)
    for seed in HISTORIES:
        world = pool_worlds.play(seed, steps=80, **habits)
        persons = {vote.contributor for _, own, _ in world.order for vote in own}
        found["persons"] += len(persons)
        found["a reader"] += len(world.list_given_away("", 1))
        names = [club.name for club in world.clubs]
        found["one club"] += len(set().union(*(world.list_given_away(name, 1) for name in names)))
        pairs = itertools.combinations(names, 2)
        found["two clubs"] += len(set().union(*(world.list_given_away(pair, 1) for pair in pairs)))
    return found


def test_what_the_rule_leaves_to_readers_and_to_clubs():
    """THREATS.md says so: two clubs that tell each other all read the one of a third who joined with them."""
    rule = count_given_away()
    careless = count_given_away(decide=publish_whatever_is_sent, careless=True)
    print(f"the rule: {rule}; clubs and keeper that publish whatever is valid: {careless}")
    assert rule["a reader"] == 0 and rule["one club"] == 0
    assert 0 < rule["two clubs"] < careless["two clubs"]
    assert careless["a reader"] > 0 and careless["one club"] > 0
