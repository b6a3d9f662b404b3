"""What a steward does on a group's first evening, and what of it is done."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.disclosure.viewers import Viewer
from measurements.selectors.accounts import members
from measurements.selectors.nights import nights
from measurements.selectors.reference import reference


@dataclass(frozen=True)
class SetupStep:
    """One step: its anchor on the page, what it is, whether it is done."""

    name: str
    title: str
    done: bool


def list_setup_steps(viewer: Viewer) -> list[SetupStep]:
    """List the five steps of a steward's first evening."""
    written = reference.read_group_facts()
    accounts, stewards = members.count_members(viewer), members.count_stewards(viewer)
    others = accounts > stewards or bool(nights.list_nights(viewer, limit=1).results)
    return [
        SetupStep("name", "Name the group", "group_name" in written),
        SetupStep("place", "Set region and time zone", "region" in written and "time_zone" in written),
        SetupStep("licence", "Choose a licence for the data", "data_terms" in written),
        SetupStep("second", "Have a second steward", stewards > 1),
        SetupStep("others", "Invite members or open a night", others),
    ]
