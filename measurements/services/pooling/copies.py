"""Fetches the newest pooled release, verifies it against the keeper's key, and keeps it as this group's copy.

Whatever carries the files, a keeper or a static host, is not believed: the signature covers the descriptor,
and the descriptor holds the hash of every file. A copy is replaced in one transaction, and never by an older
release.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.dateparse import parse_datetime

from measurements.errors import BenchnightError
from measurements.models import Cell, Design, PoolCopy, PoolCopyRow, PoolSeat, group_settings
from measurements.services.bundles import signing
from measurements.services.operations import audit
from measurements.services.pooling import envelopes, sendings, transport
from measurements.services.pooling.release_package import LATEST, MANIFEST, SIGNATURE

EVIDENCE = "evidence.csv"
MOST_ROWS = 200_000
_NUMBERS = ("limit", "chance", "median", "p10", "p25", "p75", "p90")
_TEXTS = ("verdict", "contributors", "devices")


def fetch_release(*, get: transport.Get | None = None) -> PoolCopy | None:
    """Fetch the newest pooled release; None where this group has it already or none was made.

    Raises BenchnightError `pool.no_seat`, `pool.unreachable`, `pool.signature`, `pool.package`.
    """
    seat = sendings.get_open_seat()
    if seat is None:
        raise BenchnightError("pool.no_seat", "This group is in no pool.", kind="conflict")
    ask = get or transport.get
    source = seat.source or transport.build_address(seat.keeper_address, "releases").rstrip("/")
    number = _read_pointer(ask(transport.build_file_address(source, LATEST)))
    newest = PoolCopy.objects.order_by("-number").values_list("number", flat=True).first() or 0
    if number <= newest:
        return None
    manifest = ask(transport.build_file_address(source, str(number), MANIFEST))
    signature = ask(transport.build_file_address(source, str(number), SIGNATURE))
    described = check_manifest(manifest, signature, seat, number)
    content = ask(transport.build_file_address(source, str(number), EVIDENCE))
    _check_file(described, EVIDENCE, content)
    return _store_copy(number, described, _read_rows(content))


def _read_pointer(content: bytes) -> int:
    try:
        number = json.loads(content)["release"]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise _build_package_error() from error
    if not isinstance(number, int) or not 0 <= number < 2**31:
        raise _build_package_error()
    return number


def check_manifest(manifest: bytes, signature: bytes, seat: PoolSeat, number: int) -> dict[str, Any]:
    """Check the keeper's signature of a descriptor and that it is of this release.

    Raises BenchnightError `pool.signature`, `pool.package`.
    """
    try:
        signed = bytes.fromhex(signature.decode("ascii").strip())
    except ValueError as error:
        raise _build_package_error() from error
    if not signing.is_signed(manifest, signed, seat.keeper_key, envelopes.RELEASE):
        raise BenchnightError(
            "pool.signature", "The keeper did not sign this pooled release: nothing of it was taken."
        )
    described: dict[str, Any] = json.loads(manifest)
    if described.get("version") != str(number):
        raise _build_package_error()
    return described


def _check_file(described: dict[str, Any], name: str, content: bytes) -> None:
    listed = {row["path"]: row for row in described["resources"]}
    if name not in listed or listed[name]["hash"] != f"sha256:{hashlib.sha256(content).hexdigest()}":
        raise BenchnightError("pool.package", f"{name} is not the file that the keeper signed.")


def _build_package_error() -> BenchnightError:
    return BenchnightError("pool.package", "This is no pooled release.")


def _read_rows(content: bytes) -> list[PoolCopyRow]:
    """Read the table that the keeper signed."""
    rows = []
    for line in csv.DictReader(io.StringIO(content.decode())):
        figures: dict[str, Any] = {name: float(line[name]) if line[name] else None for name in _NUMBERS}
        figures |= {name: line[name] for name in _TEXTS}
        figures["groups"] = int(line["groups"])
        figures["title"] = line["title"][:200]
        rows.append(
            PoolCopyRow(
                recipe_sha256=line["recipe_sha256"], kind=line["kind"], band=line["band"], figures=figures
            )
        )
        if len(rows) > MOST_ROWS:
            raise _build_package_error()
    return rows


def _store_copy(number: int, described: dict[str, Any], rows: list[PoolCopyRow]) -> PoolCopy:
    made_at = parse_datetime(str(described["created"]))
    if not isinstance(made_at, datetime) or made_at.tzinfo is None:
        raise _build_package_error()
    with transaction.atomic():
        copy = PoolCopy.objects.create(
            number=number, manifest=described, made_at=made_at, gained=_count_gain(rows)
        )
        for row in rows:
            row.copy = copy
        PoolCopyRow.objects.bulk_create(rows, batch_size=500)
        PoolCopy.objects.exclude(pk=copy.pk).delete()
        audit.record_action(by=None, action="pool.fetch", subject=str(number), rows=len(rows))
    return copy


def _count_gain(rows: list[PoolCopyRow]) -> dict[str, int]:
    """Count the designs with a verdict: by the pool, by this group alone, and of both together.

    listed: designs that this group has in its own list and that only the pool has a verdict for.
    """
    pooled = {row.recipe_sha256 for row in rows if row.figures["verdict"] != "not_enough_devices"}
    least = group_settings.get_thresholds().min_contributors
    cells = Cell.objects.filter(last_release=None, contributors__gte=least)
    alone = set(cells.values_list("design__recipe_sha256", flat=True))
    here = set(Design.objects.filter(merged_into=None).values_list("recipe_sha256", flat=True))
    return {
        "before": len(alone),
        "now": len(alone | pooled),
        "listed": len((pooled - alone) & here),
    }
