"""Removes the demo: its people, devices, tests and nights, and everything published while they were here."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import (
    Contributor,
    Design,
    Device,
    Member,
    Night,
    NightContributor,
    Test,
    group_facts,
)
from measurements.services.demo.demo import SCENARIO
from measurements.services.designs import designs
from measurements.services.operations import audit
from measurements.services.reference import fact_changes
from measurements.services.releases.withdrawal import withdraw_all_releases


@dataclass(frozen=True)
class RemovedCounts:
    """How many of each went."""

    members: int
    devices: int
    tests: int
    designs: int


def remove_demo(*, by: Viewer) -> RemovedCounts:
    """Remove everything that the demo brought; what others stored stays.

    What was published meanwhile rests on invented votes, and anybody can compute these from the demo's files:
    subtracted from a figure they would leave the votes of real members. So every release is withdrawn, and
    the next one starts afresh.
    Raises BenchnightError `demo.none`, `demo.own_account` where a demo account asks.
    """
    policy.check_steward(by)
    if not group_facts.read_group_facts().get(group_facts.DEMO):
        raise BenchnightError("demo.none", "No demo is loaded here.", kind="not_found")
    names = [person.name for person in SCENARIO.people]
    if by.name in names:
        raise BenchnightError(
            "demo.own_account",
            "This account is of the demo and would go with it. Make a steward account of your own first: "
            "`manage.py member YOUR-NAME --role steward` prints a link that signs in.",
            kind="conflict",
        )
    with transaction.atomic():
        withdraw_all_releases()
        counts = _delete_belongings(names)
        fact_changes.mark_demo(loaded=False)
        # an action of the catalogue, so that no public reply of before is found again
        audit.record_action(by=by, action="group_setting.change", subject=group_facts.DEMO, **vars(counts))
    return counts


def _delete_belongings(names: list[str]) -> RemovedCounts:
    members = Member.objects.filter(name__in=names)
    nights = Night.objects.filter(opened_by__in=members)
    came = Contributor.objects.filter(member=None, is_group=False, attended__night__in=nights)
    elsewhere = NightContributor.objects.exclude(night__in=nights).values("contributor")
    guests = came.exclude(pk__in=elsewhere).values("pk")
    owners = Contributor.objects.filter(Q(member__in=members) | Q(pk__in=guests))
    keys = list(owners.values_list("pk", flat=True))
    devices = Device.objects.filter(contributor__in=keys)
    tests = Test.objects.filter(device__in=devices)
    counts = tests.count(), devices.count(), members.count()
    tests.delete()
    devices.delete()
    nights.delete()
    members.delete()
    Contributor.objects.filter(pk__in=keys, devices=None, voting_devices=None).delete()
    made = [designs.preview_design(recipe).sha256 for recipe in SCENARIO.designs.values()]
    unused = Design.objects.filter(devices=None, merged=None, merged_into=None, recipe_sha256__in=made)
    gone = unused.count()
    unused.delete()
    return RemovedCounts(members=counts[2], devices=counts[1], tests=counts[0], designs=gone)
