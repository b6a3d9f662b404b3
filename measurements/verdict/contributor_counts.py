"""How many people stand behind the devices that vote on a band, and what each device then weighs.

A design's devices do not all cover every band, so the people behind a band are fewer than those behind
the design. Where each device's contributor is known they are counted. Cells of older releases do not
say, and there only what is certain counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

UNKNOWN_PERSON = -1  # of a device whose cell was made before releases kept who built what with whom


@dataclass(frozen=True)
class VoteWeights:
    """persons (D,): behind the voting devices. weight (N,): of each device; 0 where it does not vote.

    The weights of a design add up to its persons, so that one person's devices count as one together.
    """

    persons: IntArray
    weight: FloatArray


def weigh_votes(
    design: ArrayLike,
    person: ArrayLike,
    voting: ArrayLike,
    contributors: ArrayLike,
    votes_per_contributor: int | None = None,
) -> VoteWeights:
    """Weigh N devices of D designs by person.

    design: (N,) index 0..D-1. person: (N,) whole numbers that are alike for one person of a design, or
    `UNKNOWN_PERSON` for all devices of a design. voting: (N,) booleans. contributors: (D,) of the whole
    design; needed where persons are unknown, as `votes_per_contributor` is (`count_certain_contributors`).
    Devices of unknown persons weigh alike.
    """
    group, who = np.asarray(design, dtype=np.int64), np.asarray(person, dtype=np.int64)
    votes, people = np.asarray(voting, dtype=bool), np.asarray(contributors, dtype=np.int64)
    devices = np.bincount(group, minlength=people.size)
    voters = np.bincount(group[votes], minlength=people.size)
    unknown = np.bincount(group[who == UNKNOWN_PERSON], minlength=people.size) > 0
    known = votes & ~unknown[group]
    persons = count_distinct_contributors(group[known], who[known], people.size)
    persons[unknown] = count_certain_contributors(
        people[unknown], devices[unknown], voters[unknown], votes_per_contributor
    )
    weight = np.zeros(group.size)
    alike = votes & unknown[group]
    weight[alike] = persons[group[alike]] / voters[group[alike]]
    weight[known] = 1.0 / _count_of_same_person(group[known], who[known])
    return VoteWeights(persons, weight)


def _count_of_same_person(design: IntArray, person: IntArray) -> IntArray:
    """Count (N,) how many rows have the design and person of each row."""
    pairs = np.stack([design, person], axis=1)
    _, place, counts = np.unique(pairs, axis=0, return_inverse=True, return_counts=True)
    return np.asarray(counts[place.ravel()], dtype=np.int64)


def count_distinct_contributors(design: ArrayLike, contributor: ArrayLike, designs: int) -> IntArray:
    """Return (D,) different contributors of each of `designs` designs, from one row per voting device.

    design: (N,) index 0..designs-1. contributor: (N,) whole numbers.
    """
    group, owner = np.asarray(design, dtype=np.int64), np.asarray(contributor, dtype=np.int64)
    order = np.lexsort((owner, group))
    group, owner = group[order], owner[order]
    first = np.ones(group.size, dtype=bool)
    first[1:] = (group[1:] != group[:-1]) | (owner[1:] != owner[:-1])
    return np.bincount(group[first], minlength=designs)


def count_certain_contributors(
    contributors: ArrayLike, devices: ArrayLike, voting: ArrayLike, votes_per_contributor: int | None = None
) -> IntArray:
    """Return (D,) the fewest people that can stand behind `voting` of a design's devices.

    contributors, devices: (D,) those of the whole design. voting: (D,) devices that cover the band.
    votes_per_contributor: the most devices one person can have there, where that is known.

    Two bounds hold, and the larger is returned: each device without a vote may have been the only one
    of its contributor; and `voting` devices at so many for each person need at least that many people.
    Raises ValueError unless voting <= devices and contributors <= devices.
    """
    people, everything, votes = (
        np.asarray(value, dtype=np.int64) for value in (contributors, devices, voting)
    )
    if bool(np.any((votes < 0) | (votes > everything) | (people < 0) | (people > everything))):
        raise ValueError("Neither votes nor contributors can be more than the devices.")
    fewest: IntArray = np.maximum(people - (everything - votes), np.minimum(votes, 1))
    if votes_per_contributor is not None:
        fewest = np.maximum(fewest, -(-votes // votes_per_contributor))
    return np.minimum(fewest, people)
