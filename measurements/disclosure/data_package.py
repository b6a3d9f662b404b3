"""The papers of a release that other tools and other people read: a data package and a citation.

`datapackage.json` is a data package of Frictionless Data (version 1 of the specification): per table its
columns with types and units, its size and hash, the licence and the sources. It is made of the columns and
the listed files of the release, so it cannot lack one that they have. Table Schema has no word for a unit;
`unit` and `rounding` beside a field are ours, which the specification allows.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.disclosure import release_format
from measurements.disclosure.release_format import NO_TERMS_NOTE, Column
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle

PACKAGE, CITATION = "datapackage.json", "CITATION.txt"
# of each table its columns; a table that is listed in no row here is described without columns
COLUMNS_OF = {
    "evidence.csv": release_format.EVIDENCE_COLUMNS,
    "evidence.ndjson": release_format.EVIDENCE_COLUMNS,
}
TABLE_FORMATS = {"text/csv": "csv", "application/x-ndjson": "ndjson"}
ROW_KEY = ("design", "band", "kind")
_WHOLE_NUMBERS = frozenset({"release", "cores", "stacked", "turns", "passing"})
_TYPES = {"text": "string", "number": "number", "JSON": "array"}
_CSV_DIALECT = {
    "delimiter": ",",
    "lineTerminator": "\r\n",
    "quoteChar": '"',
    "doubleQuote": True,
    "header": True,
}
# what an identifier of the SPDX list looks like, such as CC-BY-4.0; any other text is a sentence of the group
_LICENCE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9.+-]{1,30}")


@dataclass(frozen=True)
class ReleaseAbout:
    """What the papers say of a release. made_at: ISO 8601, UTC. sources: of its reference data."""

    number: int
    made_at: str
    quarter: str
    engine_version: str
    region: int
    content_sha256: str
    group_name: str
    terms: str
    sources: tuple[str, ...] = ()


def build_data_package(
    about: ReleaseAbout, circle: Circle, files: Sequence[Mapping[str, Any]], limits: Thresholds
) -> str:
    """Build `datapackage.json` of one circle. files: as the manifest lists them; papers are no resources."""
    tables = [file for file in files if file["media_type"] in TABLE_FORMATS and file["circle"] == circle]
    whole = [file for file in tables if not str(file["name"]).startswith("design-")]
    content = {
        "profile": "data-package",
        "name": f"benchnight-release-{about.number}",
        "title": f"{about.group_name}: evidence, release {about.number}",
        "description": "What devices of each design measured, band by band: aggregates of several people "
        "each, no row of a single device. manifest.json lists one file per design besides.",
        "version": str(about.number),
        "created": about.made_at,
        "licenses": [_describe_terms(about.terms)],
        "sources": [
            {"title": f"Bench tests of the members of {about.group_name}"},
            *({"title": f"Band plan of ITU region {about.region}: {source}"} for source in about.sources),
        ],
        "contributors": [{"title": about.group_name, "role": "publisher"}],
        "resources": [_describe_table(file, circle, limits) for file in whole],
    }
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def _describe_terms(terms: str) -> dict[str, str]:
    shown = {"path": "LICENCE.txt", "title": terms or NO_TERMS_NOTE}
    return {"name": terms, **shown} if _LICENCE_NAME.fullmatch(terms) else shown


def _describe_table(file: Mapping[str, Any], circle: Circle, limits: Thresholds) -> dict[str, Any]:
    form = TABLE_FORMATS[file["media_type"]]
    columns = COLUMNS_OF.get(file["name"], ())
    fields = [_describe_field(column, circle, limits) for column in columns]
    described = {
        "profile": "tabular-data-resource" if form == "csv" else "data-resource",
        "name": str(file["name"]).replace(".", "-").lower(),
        "path": file["name"],
        "title": "One design on one band" + ("" if form == "csv" else ", a JSON object a line"),
        "format": form,
        "mediatype": file["media_type"],
        "encoding": "utf-8",
        "bytes": file["size"],
        "hash": f"sha256:{file['sha256']}",
    }
    if form == "csv":
        described["dialect"] = _CSV_DIALECT
    if columns:
        names = [field["name"] for field in fields]
        shown = fields if form == "csv" else _nest_fields(fields)
        key = [name for name in ROW_KEY if name in names]
        described["schema"] = {"fields": shown, "missingValues": [""], "primaryKey": key}
    return described


def _describe_field(column: Column, circle: Circle, limits: Thresholds) -> dict[str, Any]:
    """Describe a column by Table Schema; counts are numbers for members and ranges for the public."""
    told = release_format.describe_columns((column,), limits.detail_min_contributors)[0]
    kind = _TYPES[column.type]
    if column.name in _WHOLE_NUMBERS or (column.is_count and circle == "members"):
        kind = "integer"
    described = {"name": column.name, "type": kind, "description": told["meaning"]}
    return described | {name: told[name] for name in ("unit", "rounding") if told[name]}


def _nest_fields(fields: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Join the fields `outer.inner` to one object `outer`, as lines of JSON hold them."""
    nested: dict[str, dict[str, Any]] = {}
    for field in fields:
        outer, dot, inner = str(field["name"]).partition(".")
        if not dot:
            nested[outer] = dict(field)
            continue
        parts = nested.setdefault(outer, {"name": outer, "type": "object", "description": "Holds"})
        parts["description"] += f" {inner}," if inner else ""
    return [
        {**field, "description": str(field["description"]).rstrip(",") + "."}
        if field["type"] == "object"
        else field
        for field in nested.values()
    ]


def build_citation(about: ReleaseAbout) -> str:
    """Build `CITATION.txt`: how to name this release so that others find the same figures again."""
    return (
        f"{about.group_name} ({about.made_at[:4]}): Bench tests of baluns, ununs and common-mode chokes, "
        f"evidence release {about.number} ({about.quarter}), made on {about.made_at[:10]}.\n"
        f"Engine {about.engine_version}, ITU region {about.region}.\n"
        f"SHA-256 of its content: {about.content_sha256}\n\n"
        f"At this server: /api/v1/releases/{about.number}/\n"
        f"A verdict: /designs/ID/?release={about.number}&band=BAND&benchmark_db=LIMIT\n"
        "A verdict is a statement about one release, one band and one limit. Name all three.\n"
    )
