"""How many people stand behind the devices that vote on a band.

A design's devices do not all cover every band, so the people behind a band are fewer than those behind
the design. Where each device's contributor is known they are counted; published evidence does not
say, and there only what is certain counts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

IntArray = NDArray[np.int64]


def count_distinct_contributors(design: ArrayLike, contributor: ArrayLike, designs: int) -> IntArray:
    """(D,) different contributors of each of `designs` designs, from one row per voting device.

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
    """(D,) the fewest people that can stand behind `voting` of a design's devices.

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
