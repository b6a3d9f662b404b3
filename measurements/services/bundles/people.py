"""Finds for each person of a bundle the contributor here: a person counts once (trade.md, section 8).

In this order: who came from that server before; an account that a person named; the owner here of that
person's devices, by their keys; a claim code on a card; else a new guest, who may claim the devices later. A
name alone proves nothing. Every new one is unconfirmed.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import BundleMark, BundlePerson, ClaimCode, Contributor, Device, Member
from measurements.services.bundles.import_run import ImportRun
from measurements.services.devices import contributors


def meet_people(run: ImportRun) -> None:
    """Find or make everybody of the bundle. Call inside a transaction."""
    known = {
        found.ref: found
        for found in BundlePerson.objects.select_related("contributor").filter(source=run.bag.source)
    }
    owned = _find_owners_by_devices(run)
    for row in run.rows["people"]:
        mapped = known.get(row["key"])
        if mapped is not None:
            _update_person(run, row, mapped)
        else:
            _meet_person(run, row, owned.get(row["key"]))
        _add_codes(run, row)
    _join_people(run)


def _find_owners_by_devices(run: ImportRun) -> dict[str, int]:
    """Return for each person the one owner here of devices that the bundle says are that person's."""
    persons = {row["key"]: row["person"] for row in run.rows["devices"]}
    here = Device.objects.filter(key__in=list(persons)).values_list("key", "contributor_id")
    owners: dict[str, set[int]] = defaultdict(set)
    for key, owner in here:
        owners[persons[key]].add(owner)
    return {ref: next(iter(found)) for ref, found in owners.items() if len(found) == 1}


def _find_named_account(run: ImportRun, row: dict[str, Any]) -> Contributor | None:
    name = run.decisions.same.get(row["name"])
    if name is None:
        return None
    member = Member.objects.filter(name=name).first()
    if member is None:
        raise BenchnightError("bundle.account", f"There is no account {name[:64]!r} here.", field="same")
    return contributors.get_or_create_contributor(member.pk)


def _update_person(run: ImportRun, row: dict[str, Any], mapped: BundlePerson) -> None:
    run.people[row["key"]] = mapped.contributor
    named = _find_named_account(run, row)
    changes = []
    if named is not None and named.pk != mapped.contributor_id and mapped.contributor.is_guest:
        contributors.merge_contributors(mapped.contributor, named)
        run.people[row["key"]] = named
        changes.append("becomes the account that you named")
    if row["confirmed"] != mapped.confirmed_there:
        BundlePerson.objects.filter(pk=mapped.pk).update(confirmed_there=row["confirmed"])
        changes.append("confirmed there now" if row["confirmed"] else "not confirmed there any more")
    run.note("changed" if changes else "unchanged", "people", row["name"], "; ".join(changes))


def _meet_person(run: ImportRun, row: dict[str, Any], owner_id: int | None) -> None:
    found = _find_named_account(run, row)
    how = "the account that you named"
    if row["group"]:
        found, how = contributors.get_or_create_group(), "the group's own kit"
    if found is None and ("people", row["key"]) in run.marks:
        run.people[row["key"]] = None  # who left this server does not come back in an old bundle
        run.note("unchanged", "people", row["key"][:8], "")
        return
    if found is None and owner_id is not None:
        found, how = Contributor.objects.get(pk=owner_id), "owns these devices here"
    if found is None:
        card = ClaimCode.objects.select_related("contributor").filter(code_sha256__in=row["codes_sha256"])
        code = card.first()
        if code is not None:
            found, how = code.contributor, "the same card's code is here"
    if found is None:
        found = Contributor.objects.create(guest_name=row["name"])
        how = "a guest until claimed, not confirmed yet"
        if Member.objects.filter(name=row["name"]).exists():
            how += "; an account has this name: decide whether it is the same person"
    BundlePerson.objects.create(
        source=run.bag.source, ref=row["key"], contributor=found, confirmed_there=row["confirmed"]
    )
    run.people[row["key"]] = found
    BundleMark.objects.update_or_create(
        source=run.bag.source,
        table="people",
        key=row["key"],
        defaults={"fields": {}, "made_at": run.made_at, "taken_at": timezone.now()},
    )
    run.note("new", "people", row["name"], how)


def _add_codes(run: ImportRun, row: dict[str, Any]) -> None:
    """Let the codes on this guest's cards claim the devices here too."""
    owner = run.people[row["key"]]
    if owner is None or not owner.is_guest:
        return
    for digest in row["codes_sha256"]:
        ClaimCode.objects.get_or_create(code_sha256=digest, defaults={"contributor": owner})


def _join_people(run: ImportRun) -> None:
    """Make one person of contributors whom the other server counts as one."""
    groups: dict[str, dict[int, Contributor]] = defaultdict(dict)
    for row in run.rows["people"]:
        found = run.people[row["key"]]
        if found is not None:
            groups[row["person"]][found.pk] = Contributor.objects.get(pk=found.pk)
    for group in groups.values():
        if len(group) > 1:
            _join_group(list(group.values()))


def _join_group(group: list[Contributor]) -> None:
    counted = [each for each in group if contributors.get_person_key(each) != contributors.UNCONFIRMED]
    for other in counted[1:]:
        contributors.join_persons(counted[0], other)
    first = Contributor.objects.get(pk=(counted or group)[0].pk)
    person = first.person or first.key
    uncounted = [each.pk for each in group if each not in counted]
    Contributor.objects.filter(pk__in=uncounted).exclude(person=person).update(person=person)
