"""The five numbers that keep one person's figure out of what is published (house defaults).

They count contributors, never files or devices: one person with ten devices is still one person.
Other services use 3 (statistical offices' handbooks) to 10 for such thresholds; ours are small because
clubs are, and every cell that is too small is simply not there.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Thresholds:
    """Disclosure thresholds of one group.

    min_contributors: distinct contributors before members see anything of a design; at least 2.
    public_min_contributors: the same for the public; at least `min_contributors`.
    min_joiners: persons in no earlier published set who must join together before a design's cell changes;
        at least 3. With two, one of them knows the other's figure.
    detail_min_contributors: persons behind a figure before percentiles, a histogram, shares, a tolerance
        bound and other benchmarks are shown; at least 5 and at least `public_min_contributors`.
    votes_per_contributor: devices of one contributor that vote on one design; at least 1.

    Raises ValueError for numbers that would publish one person's figure as a group's.
    """

    min_contributors: int = 3
    public_min_contributors: int = 5
    min_joiners: int = 3
    votes_per_contributor: int = 3
    detail_min_contributors: int = 10

    def __post_init__(self) -> None:
        if self.min_contributors < 2:
            raise ValueError(
                "min_contributors must be at least 2: a cell of one is that person's own figure."
            )
        if self.public_min_contributors < self.min_contributors:
            raise ValueError("public_min_contributors must not be below min_contributors.")
        if self.min_joiners < 3:
            raise ValueError(
                "min_joiners must be at least 3: of two who join, each knows the other's figure."
            )
        if self.detail_min_contributors < max(5, self.public_min_contributors):
            raise ValueError(
                "detail_min_contributors must be at least 5 and not below public_min_contributors."
            )
        if self.votes_per_contributor < 1:
            raise ValueError("votes_per_contributor must be at least 1.")


DEFAULT_THRESHOLDS = Thresholds()
