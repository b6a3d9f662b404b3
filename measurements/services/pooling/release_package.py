"""The plain files of a pooled release: a Data Package (version 2) that any static host carries.

`datapackage.json` lists every file with its size and SHA-256, and `datapackage.sig` is the keeper's
Ed25519 signature of it, as hexadecimal digits. Nothing in them is for one circle alone: everybody may read
all, so every row has as many persons behind it as the public sees.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from measurements.disclosure import table_text
from measurements.services.bundles import signing
from measurements.services.pooling import envelopes

MANIFEST, SIGNATURE = "datapackage.json", "datapackage.sig"
LATEST = "latest.json"  # says which release is the newest
CSV, JSON, TEXT = "text/csv", "application/json", "text/plain"

_TEXT, _NUMBER, _WHOLE = "string", "number", "integer"

# name, type, description
EVIDENCE_FIELDS = (
    ("recipe_sha256", _TEXT, "SHA-256 of the recipe in normal form; equal builds of all groups meet by it."),
    ("title", _TEXT, "The recipe in words."),
    ("kind", _TEXT, "Kind of test."),
    ("band", _TEXT, "Amateur band."),
    ("limit", _NUMBER, "Benchmark of rejection, dB; limit of loss, dB, or of SWR."),
    ("verdict", _TEXT, "What the evidence supports."),
    ("chance", _NUMBER, "Chance that a device newly built by somebody else passes, in tenths."),
    ("groups", _WHOLE, "Groups whose members built and tested it. None counts for more than a third."),
    ("contributors", _TEXT, "Persons, as a band of counts. Somebody of two groups may count twice."),
    ("devices", _TEXT, "Devices, as a band of counts."),
    ("median", _NUMBER, "Weighted median of each device's worst figure in the band."),
    ("p10", _NUMBER, "10 % point, from ten persons on."),
    ("p25", _NUMBER, "25 % point, from ten persons on."),
    ("p75", _NUMBER, "75 % point, from ten persons on."),
    ("p90", _NUMBER, "90 % point, from ten persons on."),
)
CURVE_FIELDS = (
    ("recipe_sha256", _TEXT, "As in evidence.csv."),
    ("kind", _TEXT, "Kind of test."),
    ("frequency_hz", _NUMBER, "Frequency of the fixed grid, Hz."),
    ("median", _NUMBER, "Weighted median of the curves there."),
)
RECIPE_FIELDS = (
    ("recipe_sha256", _TEXT, "As in evidence.csv."),
    ("recipe_form", _WHOLE, "Version of the normal form that the hash is of."),
    ("recipe", _TEXT, "The recipe in normal form, as JSON."),
    ("rows", _TEXT, "Reference rows of cores that the recipe names, as JSON."),
)
Fields = Sequence[tuple[str, str, str]]


@dataclass(frozen=True)
class PackageFile:
    """One file of a release."""

    name: str
    media_type: str
    content: bytes

    @property
    def sha256(self) -> str:
        """Hash the content."""
        return hashlib.sha256(self.content).hexdigest()


def build_package(
    number: int,
    made_at: datetime,
    counts: Mapping[str, int],
    tables: Mapping[str, Iterable[Mapping[str, Any]]],
    note: str,
) -> list[PackageFile]:
    """Build the files of one release. tables: rows of `evidence`, `curves` and `recipes`. note: the terms."""
    fields = {"evidence": EVIDENCE_FIELDS, "curves": CURVE_FIELDS, "recipes": RECIPE_FIELDS}
    files = [
        PackageFile(f"{name}.csv", CSV, _format_table(columns, tables[name]))
        for name, columns in fields.items()
    ]
    manifest = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "pooled-evidence",
        "title": "Evidence of many groups on baluns, ununs and common-mode chokes",
        "version": str(number),
        "created": made_at.isoformat(timespec="seconds").replace("+00:00", "Z"),
        "description": note,
        "counts": dict(counts),
        "resources": [_describe(file, columns) for file, columns in zip(files, fields.values(), strict=True)],
    }
    text = (json.dumps(manifest, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()
    signature = signing.sign_bytes(text, envelopes.RELEASE).hex() + "\n"
    return [
        *files,
        PackageFile(MANIFEST, JSON, text),
        PackageFile(SIGNATURE, TEXT, signature.encode()),
    ]


def _describe(file: PackageFile, columns: Fields) -> dict[str, Any]:
    return {
        "name": file.name.removesuffix(".csv"),
        "path": file.name,
        "format": "csv",
        "mediatype": file.media_type,
        "encoding": "utf-8",
        "bytes": len(file.content),
        "hash": f"sha256:{file.sha256}",
        "schema": {
            "fields": [{"name": name, "type": kind, "description": about} for name, kind, about in columns]
        },
    }


def _format_table(columns: Fields, rows: Iterable[Mapping[str, Any]]) -> bytes:
    names = [name for name, _, _ in columns]
    lines = table_text.format_csv_table(([row[name] for name in names] for row in rows), names)
    return "".join(lines).encode()
