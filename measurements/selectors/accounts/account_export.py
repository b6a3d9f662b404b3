"""Everything that is stored of an account, as one zip: what a member takes along.

Built in a file, thing by thing, because an account may hold half a gigabyte.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator
from dataclasses import asdict
from typing import IO, Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import (
    AuditEntry,
    CalendarFeed,
    DescribedAnalyser,
    Device,
    DevicePhoto,
    FaultSearch,
    Inspection,
    Loan,
    Member,
    NightContributor,
    Result,
    SweepFile,
    Test,
    token_table,
)
from measurements.rf.sweeps import file_endings, result_values
from measurements.selectors.evidence import evidence

SERVER = "(server)"
SOMEBODY = "(another account)"
PORTION = 400
README = """A copy of everything that is stored of your account.

account.json      the account itself, its analysers, tokens and calendar feeds (of secrets only hashes)
published.json    exactly what stands of you in the current release
audit.ndjson      lines of the log about you and your things; other accounts are not named in them
devices/TAG-KEY/  one folder per device:
  device.json       the device, its recipe, its inspections and fault searches
  photos/           its pictures
  tests/KEY/        one folder per test: test.json (settings, every result) and the files as you sent them
"""


def write_account_export(viewer: Viewer, target: IO[bytes]) -> None:
    """Write the viewer's own copy into `target`, which must be seekable."""
    policy.check_signed_in(viewer)
    member = Member.objects.get(pk=viewer.member_id)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("README.txt", README)
        _write_json(archive, "account.json", _account_values(member))
        _write_json(archive, "published.json", [asdict(row) for row in evidence.list_published_rows(viewer)])
        keys = [member.name]
        devices = Device.objects.filter(contributor__member=member).select_related("design", "baseline")
        for device in devices.order_by("pk"):
            keys += _put_device(archive, device)
        with archive.open("audit.ndjson", "w") as lines:
            for line in _audit_lines(member.name, keys):
                lines.write(_encode_json(line, indent=None) + b"\n")


def _account_values(member: Member) -> dict[str, Any]:
    tokens = token_table.get_token_manager().filter(user=member).order_by("created")
    feeds = CalendarFeed.objects.filter(member=member).order_by("made_at")
    nights = NightContributor.objects.filter(contributor__member=member)
    return {
        "name": member.name,
        "role": member.role,
        "keeps_kit": member.keeps_kit,
        "in_pool": member.in_pool,
        "joined_at": member.joined_at,
        "has_password": member.has_usable_password(),
        "tokens": list(tokens.values("token_key", "label", "scope", "created", "expiry", "last_used_on")),
        "analysers": list(
            DescribedAnalyser.objects.filter(member=member)
            .order_by("name")
            .values("key", "name", "calibration", "stated", "measured", "description", "checked_on")
        ),
        "calendar_feeds": list(feeds.values("label", "made_at", "last_used_on")),
        "watched_designs": list(member.watched.order_by("pk").values("design__key", "watched_at")),
        "nights_attended": list(nights.order_by("night__held_on").values_list("night__held_on", flat=True)),
        "nights_run": list(member.runs.order_by("night__held_on").values_list("night__held_on", flat=True)),
    }


def _put_device(archive: zipfile.ZipFile, device: Device) -> list[str]:
    """Write a device's folder and answer the keys of all that is in it."""
    folder = f"devices/{format_path_name(device.tag)[:40]}-{device.key}"
    inspections = list(_column_values(Inspection.objects.filter(device=device), "device"))
    searches = list(_column_values(FaultSearch.objects.filter(device=device), "device"))
    for search in searches:
        search["begun_by"] = None if search["begun_by"] is None else SOMEBODY
    for inspection in inspections:
        inspection["recorded_by"] = None if inspection["recorded_by"] is None else SOMEBODY
        inspection.pop("night")
    marks = list(device.due_marks.order_by("pk").values("event", "since", "reason", "marked_at"))
    photos = list(
        DevicePhoto.objects.filter(device=device).order_by("pk").values("key", "caption", "added_at")
    )
    _write_json(
        archive,
        f"{folder}/device.json",
        {
            "id": device.key,
            "tag": device.tag,
            "design": None if device.design is None else device.design.key,
            "recipe": None if device.design is None else device.design.recipe,
            "kind": device.kind,
            "ratio": device.ratio,
            "make": device.make,
            "loans": list(_column_values(Loan.objects.filter(device=device), "device", "lent_by")),
            "origin": device.origin,
            "built_on": device.built_on,
            "notes": device.notes,
            "registered_at": device.registered_at,
            "place": device.place,
            "baseline": None if device.baseline is None else device.baseline.key,
            "due_marks": marks,
            "retired_on": device.retired_on,
            "is_check_standard": device.is_check_standard,
            "inspections": inspections,
            "fault_searches": searches,
            "photos": photos,
        },
    )
    for photo in DevicePhoto.objects.filter(device=device).order_by("pk").iterator(chunk_size=1):
        ending = photo.media_type.rpartition("/")[2]
        archive.writestr(f"{folder}/photos/{photo.key}.{ending}", bytes(photo.content))
    tests = [_put_test(archive, folder, test) for test in device.tests.order_by("pk").iterator(chunk_size=50)]
    things = [each["key"] for each in (*inspections, *searches, *photos)]
    return [device.key, *tests, *things]


def _put_test(archive: zipfile.ZipFile, folder: str, test: Test) -> str:
    files = SweepFile.objects.filter(test=test).order_by("pk")
    _write_json(
        archive,
        f"{folder}/tests/{test.key}/test.json",
        {
            "id": test.key,
            "kind": test.kind,
            "settings": test.settings,
            "measured_on": test.measured_on,
            "recorded_at": test.recorded_at,
            "excluded_reason": test.excluded_reason,
            "excluded_at": test.excluded_at,
            "recipe_doubt": test.recipe_doubt,
            "recipe_confirmed_at": test.recipe_confirmed_at,
            "private": test.is_private,
            "files": list(files.values("role", "name", "raw_sha256")),
            "results": [_result(row) for row in Result.objects.filter(test=test).order_by("pk")],
        },
    )
    for file in files.only("role", "name", "raw").iterator(chunk_size=1):
        data = bytes(file.raw)
        # the owner's own names are in the list of files; a name of ours by kind is safe to open
        ending = file_endings.find_safe_ending(data, file.name)
        archive.writestr(f"{folder}/tests/{test.key}/{file.role}.{ending}", data)
    return test.key


def _result(row: Result) -> dict[str, Any]:
    columns = ("engine_version", "computed_at", "current", "counts_as_evidence", "figures")
    traces = result_values.format_traces(result_values.unpack_traces(row.trace_names, bytes(row.traces)))
    return {**{name: getattr(row, name) for name in columns}, "traces": traces}


def _audit_lines(name: str, keys: list[str]) -> Iterator[dict[str, Any]]:
    """Yield lines by this account or about its things, oldest first within each portion of things."""
    seen: set[int] = set()
    for start in range(0, len(keys), PORTION):
        about = Q(subject__in=keys[start : start + PORTION])
        lines = AuditEntry.objects.filter(about if start else about | Q(actor=name)).order_by("pk")
        for line in lines.iterator():
            if line.pk in seen:
                continue
            seen.add(line.pk)
            own = line.actor in (name, SERVER)
            yield {
                "at": line.at,
                "actor": line.actor if own else SOMEBODY,
                "action": line.action,
                "subject": line.subject,
                "detail": line.detail,
            }


def format_path_name(name: str) -> str:
    """Return a name as a path may hold it: letters, digits, dot, dash and underscore; never a way upwards."""
    kept = "".join(char if char.isascii() and (char.isalnum() or char in "._-") else "_" for char in name)
    return kept.lstrip(".") or "unnamed"


def _column_values(rows: QuerySet[Any], *without: str) -> Iterator[dict[str, Any]]:
    """Return every column of the rows but hashes, row numbers and `without`."""
    left_out = {"id", "content_sha256", *without}
    names = [field.name for field in rows.model._meta.concrete_fields if field.name not in left_out]
    return iter(rows.order_by("pk").values(*names))


def _write_json(archive: zipfile.ZipFile, name: str, value: Any) -> None:
    archive.writestr(name, _encode_json(value, indent=1))


def _encode_json(value: Any, indent: int | None) -> bytes:
    return json.dumps(value, cls=DjangoJSONEncoder, ensure_ascii=False, indent=indent).encode()
