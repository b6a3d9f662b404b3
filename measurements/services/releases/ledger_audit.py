"""Audit the private ledger before a release is public: everything published so far, in order, by one rule."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from measurements.disclosure.auditor import Finding, PublishedSet, audit_publications
from measurements.disclosure.votes import Vote
from measurements.errors import BenchnightError
from measurements.models import PublishedVote


def check_ledger(number: int, groups: Iterable[Sequence[int]], min_joiners: int) -> None:
    """Raise BenchnightError `release.audit` when a set that release `number` publishes breaks the rule.

    groups: designs that share a past, as `design_decisions.list_design_groups` gives them.
    Call inside the transaction that makes the release: an error takes the release back.
    """
    found = audit_ledger(number, groups, min_joiners)
    if found is not None:
        raise BenchnightError(
            "release.audit",
            f"This release is not made public: {found.what} would rest on {found.joiners} new people, and it "
            f"takes {min_joiners}. Nothing was changed. Report this; it is a defect.",
            kind="conflict",
        )


def audit_ledger(number: int, groups: Iterable[Sequence[int]], min_joiners: int) -> Finding | None:
    """Return audit the sets of votes that release `number` publishes against all earlier ones; None where
    all hold.

    One pass over the ledger. Earlier releases were audited when they were made: designs that have been merged
    since had pasts of their own then, and an older rule may have made them.
    """
    past_of = {design: f"past {group[0]}" for group in groups for design in group}
    votes: dict[tuple[int, int, str], set[Vote]] = defaultdict(set)
    columns = ("cell__first_release", "cell__design", "cell", "contributor_key", "device_key", "test_key")
    for first, design, cell, *keys in PublishedVote.objects.values_list(*columns).iterator():
        votes[first, design, str(cell)].add(Vote(*keys))
    return audit_publications(
        (
            PublishedSet(
                past_of.get(design, f"past {design}"),
                f"design {design} in release {first}",
                frozenset(found),
                judged=first == number,
            )
            for (first, design, _), found in sorted(votes.items(), key=lambda item: item[0][:2])
        ),
        min_joiners,
    )
