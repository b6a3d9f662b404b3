"""The files of pooled releases as the keeper serves them: to everybody, and never changed."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from measurements.errors import BenchnightError
from measurements.models import KeptRelease, KeptReleaseFile

LATEST = "latest.json"


@dataclass(frozen=True)
class KeptFileRow:
    """One file of a pooled release."""

    name: str
    media_type: str
    content: bytes
    sha256: str


@dataclass(frozen=True)
class KeptReleaseRow:
    """One pooled release. files: names in order."""

    number: int
    made_at: datetime
    counts: dict[str, Any]
    manifest_sha256: str
    files: tuple[str, ...]


def get_newest_number() -> int:
    """Get the number of the newest pooled release that this server made; 0 where it made none."""
    newest = KeptRelease.objects.order_by("-number").values_list("number", flat=True).first()
    return newest or 0


def get_file(number: int, name: str) -> KeptFileRow:
    """Get a file. Raises BenchnightError `pool.file_not_found`."""
    found = KeptReleaseFile.objects.filter(release=number, name=name).first()
    if found is None:
        raise BenchnightError("pool.file_not_found", "There is no such file of a pool.", kind="not_found")
    return KeptFileRow(found.name, found.media_type, bytes(found.content), found.sha256)


def list_kept_releases() -> tuple[KeptReleaseRow, ...]:
    """List the pooled releases that this server made, the newest first."""
    names: dict[int, list[str]] = {}
    for number, name in KeptReleaseFile.objects.order_by("pk").values_list("release_id", "name"):
        names.setdefault(number, []).append(name)
    return tuple(
        KeptReleaseRow(
            row.number, row.made_at, row.counts, row.manifest_sha256, tuple(names.get(row.number, ()))
        )
        for row in KeptRelease.objects.order_by("-number")
    )


def format_pointer() -> str:
    """Format what says which release is the newest; nothing is believed of it but where to look."""
    return json.dumps({"release": get_newest_number()}) + "\n"
