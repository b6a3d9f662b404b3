"""The tables of a bundle and a JSON Schema (draft 2020-12) of their lines. The schema is in every bundle.

A reader never believes the schema inside a bundle: it takes its own of the same version. A version that was
written once is read for good: a new one gets a row in `SCHEMAS` and a step in `UPGRADES`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from jsonschema import Draft202012Validator

from measurements.errors import BenchnightError

VERSION = 2
RECIPE_FORM = 1  # of the normal form whose SHA-256 makes equal recipes meet

_KEY = {"type": "string", "pattern": "^[2-9a-hjkmnp-tv-z]{12}$"}
_SHA256 = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_REF = {"type": "string", "pattern": "^[0-9a-f]{32}$"}
_DAY = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
_TIME = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?\+00:00$"}
_YES_NO = {"type": "boolean"}
_NUMBER = {"type": "number", "minimum": -1e30, "maximum": 1e30}
_COUNT = {"type": "integer", "minimum": 0, "maximum": 2_147_483_647}
_OBJECT = {"type": "object"}


def _text(most: int) -> dict[str, Any]:
    return {"type": "string", "maxLength": most}


def _or_null(schema: Mapping[str, Any]) -> dict[str, Any]:
    return {"anyOf": [dict(schema), {"type": "null"}]}


def _list_of(schema: Mapping[str, Any], most: int) -> dict[str, Any]:
    return {"type": "array", "items": dict(schema), "maxItems": most}


def _choice(*words: str) -> dict[str, Any]:
    return {"enum": list(words)}


def _row(optional: str = "", **fields: Any) -> dict[str, Any]:
    """Build the schema of an object of exactly these fields; `optional` ones may be absent."""
    left_out = set(optional.split())
    return {
        "type": "object",
        "properties": {**fields, "synced": _OBJECT},
        "required": [name for name in fields if name not in left_out],
        "additionalProperties": False,
    }


_SOURCED = {"source": _text(2000), "basis": _text(32), "as_of": _DAY, "note": _text(2000)}
_SIZES = {name: _or_null(_NUMBER) for name in ("outer_mm", "inner_mm", "height_mm")}
_FILE = _row(role=_text(16), name=_text(255), sha256=_SHA256)
_STEP = _row(step=_text(32), test=_KEY)

_FINDINGS = {
    "type": "object",
    "additionalProperties": _row(
        "note", state=_choice("ok", "watch", "fault", "not_looked", "does_not_apply"), note=_text(2000)
    ),
}

# in the order in which they are stored: a row refers only to rows of tables before it
TABLES: Mapping[str, dict[str, Any]] = {
    "mixes": _row(
        key=_text(16),
        initial_permeability=_or_null(_NUMBER),
        curie_c=_or_null(_NUMBER),
        resistivity_ohm_cm=_or_null(_NUMBER),
        rows=_list_of(_list_of(_NUMBER, 3), 2000),
        **_SOURCED,
    ),
    "cores": _row(
        key=_text(32),
        shape=_text(16),
        mix=_text(16),
        al_nh=_or_null(_NUMBER),
        al_tolerance_percent=_or_null(_NUMBER),
        **_SIZES,
        **_SOURCED,
    ),
    "conductors": _row(key=_text(64), outer_mm=_or_null(_NUMBER), **_SOURCED),
    "designs": _row(key=_KEY, recipe=_OBJECT, recipe_sha256=_SHA256, recipe_form=_COUNT),
    "people": _row(
        key=_REF,
        person=_REF,
        name=_text(64),
        account=_YES_NO,
        group=_YES_NO,
        confirmed=_YES_NO,
        codes_sha256=_list_of(_SHA256, 50),
    ),
    "nights": _row(
        key=_KEY,
        held_on=_DAY,
        title=_text(120),
        instrument=_text(120),
        jig=_text(200),
        calibrated=_or_null(_YES_NO),
        calibration=_text(200),
        resistors=_text(200),
        notes=_text(20000),
        opened_at=_TIME,
        closed_at=_or_null(_TIME),
        jig_figures=_OBJECT,
        jig_files=_list_of(_FILE, 8),
    ),
    "attendance": _row(key=_KEY, night=_KEY, person=_REF, name=_text(64)),
    "devices": _row(
        "place notes",
        key=_KEY,
        design=_or_null(_KEY),
        person=_REF,
        voter=_or_null(_REF),
        kind=_text(64),
        ratio=_text(16),
        make=_text(120),
        tag=_text(64),
        origin=_choice("homebrew", "commercial"),
        built_on=_or_null(_DAY),
        notes=_text(20000),
        place=_text(120),
        registered_at=_TIME,
        retired_on=_or_null(_DAY),
        is_check_standard=_YES_NO,
    ),
    "labels": _row(key=_KEY, device=_KEY),
    "marks": _row(
        key=_text(64),
        device=_KEY,
        event=_text(16),
        since=_DAY,
        reason=_text(120),
        marked_at=_TIME,
        batch=_KEY,
    ),
    "loans": _row(key=_KEY, device=_KEY, borrower=_text(64), lent_on=_DAY, returned_on=_or_null(_DAY)),
    # those that have their answer: an open one stays with the server on which its receiver can answer
    "handovers": _row(
        key=_KEY,
        device=_KEY,
        to_group=_YES_NO,
        name=_text(64),
        offered_at=_TIME,
        answer=_choice("yes", "no", "back"),
        answered_at=_or_null(_TIME),
    ),
    "brought": _row(
        key=_text(64),
        night=_KEY,
        device=_KEY,
        brought_at=_TIME,
        opened_how=_choice("registered", "label", "owner"),
        ended_at=_or_null(_TIME),
        ended_by_owner=_YES_NO,
    ),
    "standards": _row(
        key=_KEY, device=_KEY, marked_at=_TIME, counts_from=_or_null(_DAY), ended_at=_or_null(_TIME)
    ),
    "tests": _row(
        key=_KEY,
        device=_KEY,
        night=_or_null(_KEY),
        kind=_text(16),
        settings=_OBJECT,
        measured_on=_DAY,
        recorded_at=_TIME,
        content_sha256=_SHA256,
        excluded_reason=_text(2000),
        excluded_at=_or_null(_TIME),
        recipe_confirmed_at=_or_null(_TIME),
        is_private=_YES_NO,
        files=_list_of(_FILE, 20),
    ),
    "baselines": _row(key=_KEY, test=_or_null(_KEY)),
    "holds": _row(
        key=_KEY,
        standard=_or_null(_KEY),
        test_key=_KEY,
        kind=_text(16),
        method=_text(20),
        night=_KEY,
        measured_on=_DAY,
        findings=_list_of(_OBJECT, 100),
        advice=_text(5000),
        made_at=_TIME,
        ended_at=_or_null(_TIME),
        ended_how=_text(12),
        reason=_text(2000),
    ),
    "inspections": _row(
        key=_KEY,
        device=_KEY,
        night=_or_null(_KEY),
        inspected_on=_DAY,
        recorded_at=_TIME,
        findings=_FINDINGS,
        dc_ohm=_or_null(_NUMBER),
        notes=_text(20000),
        content_sha256=_SHA256,
    ),
    "pictures": _row(
        key=_KEY, device=_KEY, caption=_text(200), added_at=_TIME, raw_sha256=_SHA256, sha256=_SHA256
    ),
    "searches": _row(
        key=_KEY,
        device=_KEY,
        begun_at=_TIME,
        symptom=_text(32),
        answers=_OBJECT,
        finding=_text(32),
        ended_at=_or_null(_TIME),
        version=_COUNT,
        steps=_list_of(_STEP, 200),
    ),
}

# loans and hand-overs came with the second version; every other table is as it was
_FIRST = {name: table for name, table in TABLES.items() if name not in ("loans", "handovers")}
SCHEMAS: Mapping[int, Mapping[str, dict[str, Any]]] = {1: _FIRST, 2: TABLES}
# version -> makes a row of the next version out of a row of this one: (table, row) -> row
UPGRADES: Mapping[int, Callable[[str, dict[str, Any]], dict[str, Any]]] = {1: lambda _table, row: row}


def build_schema() -> dict[str, Any]:
    """Build the schema that lies in a bundle: `$defs` has a row of each table."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Rows of a Benchnight bundle, version {VERSION}",
        "description": "data/rows/NAME.jsonl holds one row a line; $defs/NAME describes it. `files` and "
        "`sha256` name files under data/files/ by their SHA-256. Times are UTC, lengths mm, frequencies Hz.",
        "$defs": dict(TABLES),
    }


def check_row(version: int, table: str, row: Any, line: int) -> dict[str, Any]:
    """Return a row as today's version has it. Raises BenchnightError `bundle.row` naming table and line."""
    fault = next(_get_validator(version, table).iter_errors(row), None)
    if fault is not None:
        where = ".".join(str(part) for part in fault.absolute_path) or "the row"
        raise BenchnightError(
            "bundle.row",
            f"Line {line} of {table} is not as the schema describes it ({where[:80]}). Nothing was taken.",
            field="bundle",
        )
    for older in range(version, VERSION):
        row = UPGRADES[older](table, row)
    return row  # type: ignore[no-any-return]  # the schema says that it is an object


@cache
def _get_validator(version: int, table: str) -> Draft202012Validator:
    return Draft202012Validator(SCHEMAS[version][table])
