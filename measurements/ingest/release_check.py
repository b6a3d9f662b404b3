"""Whether notes of what changed miss something that a look at everything finds (`evidence_changes`)."""

from __future__ import annotations

from measurements.ingest import decision_marks, evidence_changes, release_files, table_rows
from measurements.models import EvidenceChange, Release, group


def missed() -> int:
    """How many designs, and tables of older releases, the next release would pass by though they changed.

    Where there are any, the next release looks at everything.
    """
    with table_rows.snapshot("default"):
        found = len(_designs()) + len(_tables())
    if found:
        EvidenceChange.objects.create()
    return found


def _designs() -> list[list[int]]:
    """Groups of designs that are to be decided together and would not be."""
    limits = group.release_thresholds()
    whole = decision_marks.plan(limits, evidence_changes.EVERYTHING)
    quick = decision_marks.plan(limits, _noted())
    decided = {design: index for index, each in enumerate(quick.groups) for design in each}
    return [
        each
        for each in whole.groups
        if len({decided.get(design, f"not {design}") for design in each}) > 1 or each[0] not in decided
    ]


def _tables() -> set[int]:
    whole = release_files.tables_of_withdrawn(evidence_changes.EVERYTHING)
    return whole - release_files.tables_of_withdrawn(_noted())


def _noted() -> evidence_changes.Changes:
    return evidence_changes.noted(Release.objects.order_by("-number").first())
