"""Writes a bundle of a night, of a member, or of everything.

A bundle holds no password, link, token, address of a calendar, key of the ledger, nor anything of a release:
what counts as evidence is decided anew where it is imported.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from django.db.models import Q, QuerySet
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import (
    BundleMark,
    CheckHold,
    CheckStandard,
    Conductor,
    Contributor,
    Core,
    Design,
    Device,
    DevicePhoto,
    DueMark,
    FaultSearch,
    Handover,
    Inspection,
    LabelCode,
    Loan,
    Member,
    Mix,
    Night,
    NightContributor,
    NightDevice,
    NightJigFile,
    SweepFile,
    Test,
)
from measurements.rf.analysis import ENGINE_VERSION
from measurements.services.bundles import bags, row_schema, row_values, signing
from measurements.services.devices import attendance
from measurements.services.operations import audit


@dataclass(frozen=True)
class BundleScope:
    """What goes into a bundle. whole: everything of the devices, as their owner or the server has it.

    A night's operator gets of a member's device what lay on the bench: its recipe and the night's tests.
    """

    what: dict[str, Any]
    nights: QuerySet[Night]
    devices: QuerySet[Device]
    tests: QuerySet[Test]
    whole: bool
    lists_people: bool = True


@dataclass(frozen=True)
class BundleSummary:
    """How many files and rows a bundle has."""

    files: int
    rows: int


def select_night(key: str, *, by: Viewer | None) -> BundleScope:
    """Select a night: its jig, its list, devices that were on its bench, and its tests.

    by: an operator of the night or a steward; None for a command, which acts for the server.
    Raises BenchnightError `night.not_found`, `account.operators_only`.
    """
    night = Night.objects.filter(key=key).first() if by is None else attendance.get_night_for_staff(by, key)
    if night is None:
        raise policy.build_not_found("night")
    tests = Test.objects.filter(night=night)
    if by is not None and not by.is_steward:
        open_to_staff = NightDevice.objects.live().filter(night=night).values("device")
        guests = Q(device__contributor__member=None, device__contributor__is_group=False)
        own = Q(device__contributor__member=by.member_id)
        tests = tests.filter(guests | own | Q(device__in=open_to_staff))
        brought = NightDevice.objects.filter(night=night, device__in=open_to_staff)
    else:
        brought = NightDevice.objects.filter(night=night)
    devices = Device.objects.filter(Q(pk__in=brought.values("device")) | Q(pk__in=tests.values("device")))
    return BundleScope(
        {"night": night.key}, Night.objects.filter(pk=night.pk), devices, tests, by is None or by.is_steward
    )


def select_member(name: str) -> BundleScope:
    """Select what one account owns; nights stay with the group. Raises BenchnightError `bundle.member`."""
    member = Member.objects.filter(name=name).first()
    if member is None:
        raise BenchnightError("bundle.member", f"There is no account {name[:64]!r}.", kind="not_found")
    devices = Device.objects.filter(contributor__member=member)
    return BundleScope(
        {"member": member.name},
        Night.objects.none(),
        devices,
        Test.objects.filter(device__in=devices),
        whole=True,
        lists_people=False,
    )


def select_all() -> BundleScope:
    """Select every night, device and test of the group."""
    return BundleScope(
        {"all": True}, Night.objects.all(), Device.objects.all(), Test.objects.all(), whole=True
    )


def export_to_file(scope: BundleScope, file: Path) -> BundleSummary:
    """Write a bundle to a new file that only its owner reads. Raises BenchnightError `bundle.exists`."""
    if file.exists():
        raise BenchnightError(
            "bundle.exists", f"There is a {file.name} already. Give another name.", kind="conflict"
        )
    try:
        handle, beside = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    except OSError as error:
        raise BenchnightError(
            "bundle.place", f"Nothing can be written in {file.parent}: {error.strerror}."
        ) from error
    try:
        with os.fdopen(handle, "w+b") as out:
            summary = write_bundle(scope, out)
            out.flush()
            os.fsync(out.fileno())
        os.link(beside, file)
    finally:
        Path(beside).unlink(missing_ok=True)
    return summary


def write_bundle(scope: BundleScope, out: BinaryIO, *, by: Viewer | None = None) -> BundleSummary:
    """Write the bundle and note in the log that it left."""
    rows = {table: list(_build_rows(table, scope)) for table in row_schema.TABLES}
    files = bags.write_bag(out, _iterate_payload(scope, rows), _describe(scope))
    count = sum(len(lines) for lines in rows.values())
    audit.record_action(
        by=by, action="bundle.export", subject=str(next(iter(scope.what))), rows=count, **_get_subject(scope)
    )
    return BundleSummary(files, count)


def _get_subject(scope: BundleScope) -> dict[str, Any]:
    return {name: value for name, value in scope.what.items() if name == "night"}


def _describe(scope: BundleScope) -> str:
    return next(
        {"night": "a night", "member": "one member", "all": "a whole group"}[name] for name in scope.what
    )


def _iterate_payload(
    scope: BundleScope, rows: dict[str, list[dict[str, Any]]]
) -> Iterator[tuple[str, bytes]]:
    head = {
        "version": row_schema.VERSION,
        "what": scope.what,
        "made_at": row_values.format_time(timezone.now()),
        "made_by": signing.get_public_key(),
        "engine_version": ENGINE_VERSION,
    }
    yield "data/bundle.json", _encode(head)
    yield "data/schema.json", _encode(row_schema.build_schema())
    for table, lines in rows.items():
        yield f"data/rows/{table}.jsonl", b"".join(_encode(line) for line in lines)
    written: set[str] = set()
    for digest, content in _iterate_files(scope):
        if digest not in written:
            written.add(digest)
            yield f"data/files/{digest}", content


def _encode(value: Any) -> bytes:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False).encode() + b"\n"


def _iterate_files(scope: BundleScope) -> Iterator[tuple[str, bytes]]:
    jig = NightJigFile.objects.filter(night__in=scope.nights).order_by("pk")
    sweeps = SweepFile.objects.filter(test__in=scope.tests).order_by("pk")
    for stored in (jig, sweeps):
        for digest, raw in stored.values_list("raw_sha256", "raw").iterator(chunk_size=20):
            yield digest, bytes(raw)
    for (content,) in _query("pictures", scope).values_list("content").iterator(chunk_size=5):
        yield row_values.hash_bytes(bytes(content)), bytes(content)


def _build_rows(table: str, scope: BundleScope) -> Iterator[dict[str, Any]]:
    synced = _get_synced(table)
    build = row_values.BUILDERS[table]
    for stored in _query(table, scope).iterator(chunk_size=200):
        row = build(stored)
        if table == "devices" and not scope.whole and not stored.contributor.is_guest:
            for name in row_values.OWNERS_FIELDS:
                row.pop(name)
        if row["key"] in synced:
            row["synced"] = synced[row["key"]]
        yield row


def _get_synced(table: str) -> dict[str, dict[str, Any]]:
    """Return for each row how it was when it came from each server: key -> server -> mark."""
    found: dict[str, dict[str, Any]] = {}
    for mark in BundleMark.objects.filter(table=table).order_by("pk"):
        made_at = row_values.format_time(mark.made_at)
        found.setdefault(mark.key, {})[mark.source] = {"made_at": made_at, "fields": mark.fields}
    return found


def _query(table: str, scope: BundleScope) -> QuerySet[Any]:
    return _QUERIES[table](scope).order_by("pk")


def _query_people(scope: BundleScope) -> QuerySet[Contributor]:
    owners = Q(pk__in=scope.devices.values("contributor"))
    owners |= Q(pk__in=scope.devices.exclude(voter=None).values("voter"))
    came = Q(pk__in=NightContributor.objects.filter(night__in=scope.nights).values("contributor"))
    return Contributor.objects.filter(owners | came if scope.lists_people else owners).select_related(
        "member"
    )


def _query_designs(scope: BundleScope) -> QuerySet[Design]:
    return Design.objects.filter(pk__in=scope.devices.values("design"))


def _list_recipe_names(scope: BundleScope) -> tuple[set[str], set[str], set[str]]:
    """List the mixes, parts and conductors that the recipes name."""
    recipes = list(_query_designs(scope).values_list("recipe", flat=True))
    cores = [core for recipe in recipes for core in recipe["cores"]]
    parts = {core["part"] for core in cores if "part" in core}
    mixes = {core["mix"] for core in cores} | set(
        Core.objects.filter(part__in=parts).values_list("mix", flat=True)
    )
    return mixes, parts, {recipe["winding"]["conductor"] for recipe in recipes}


_IS_GUESTS = Q(device__contributor__member=None, device__contributor__is_group=False)


def _query_whole(rows: QuerySet[Any], scope: BundleScope) -> QuerySet[Any]:
    """Narrow rows of devices to guests' devices, where the bundle is an operator's."""
    found = rows.filter(device__in=scope.devices).select_related("device")
    return found if scope.whole else found.filter(_IS_GUESTS)


def _query_inspections(scope: BundleScope) -> QuerySet[Inspection]:
    found = Inspection.objects.filter(device__in=scope.devices).select_related("device", "night")
    if scope.whole:
        return found
    return found.filter(_IS_GUESTS | Q(night__in=scope.nights))


def _query_searches(scope: BundleScope) -> QuerySet[FaultSearch]:
    """Select fault searches all of whose tests are in the bundle."""
    outside = FaultSearch.objects.filter(
        steps__test__in=Test.objects.exclude(pk__in=scope.tests.values("pk"))
    )
    return _query_whole(FaultSearch.objects.exclude(pk__in=outside.values("pk")), scope)


def _query_standards(scope: BundleScope) -> QuerySet[CheckStandard]:
    return CheckStandard.objects.filter(device__in=scope.devices).select_related("device")


_QUERIES: dict[str, Any] = {
    "mixes": lambda scope: Mix.objects.filter(name__in=_list_recipe_names(scope)[0]),
    "cores": lambda scope: Core.objects.filter(part__in=_list_recipe_names(scope)[1]),
    "conductors": lambda scope: Conductor.objects.filter(name__in=_list_recipe_names(scope)[2]),
    "designs": _query_designs,
    "people": _query_people,
    "nights": lambda scope: scope.nights,
    "attendance": lambda scope: NightContributor.objects.filter(night__in=scope.nights).select_related(
        "night", "contributor"
    ),
    "devices": lambda scope: scope.devices.select_related("contributor__member", "voter", "design"),
    "labels": lambda scope: LabelCode.objects.filter(device__in=scope.devices).select_related("device"),
    "marks": lambda scope: _query_whole(DueMark.objects.all(), scope),
    "loans": lambda scope: _query_whole(Loan.objects.all(), scope),
    "handovers": lambda scope: _query_whole(Handover.objects.exclude(answer=""), scope),
    "brought": lambda scope: NightDevice.objects.filter(
        night__in=scope.nights, device__in=scope.devices
    ).select_related("night", "device"),
    "standards": _query_standards,
    "tests": lambda scope: scope.tests.select_related("device", "night"),
    "baselines": lambda scope: scope.devices.filter(baseline__in=scope.tests).select_related("baseline"),
    "holds": lambda scope: CheckHold.objects.filter(night__in=scope.nights).select_related(
        "standard", "night"
    ),
    "inspections": _query_inspections,
    "pictures": lambda scope: _query_whole(DevicePhoto.objects.all(), scope),
    "searches": _query_searches,
}
