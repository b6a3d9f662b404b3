"""A JSON Schema (draft 2020-12) of what a group sends: the keeper believes nothing beyond it."""

from __future__ import annotations

from functools import cache
from typing import Any

from jsonschema import Draft202012Validator

from measurements.disclosure.pooled_records import GRID_POINTS
from measurements.disclosure.pooled_sending import LARGEST_U, U_CLASSES
from measurements.errors import BenchnightError

FORM = 1
MOST_VOTES = 50_000
MOST_DESIGNS = 5_000
NOBODY = "0" * 32  # in a set: everybody whose votes were never sent, as one

_SHA256 = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_NAME = {"type": "string", "pattern": "^[0-9a-f]{32}$"}
_NUMBER = {"type": "number", "minimum": -1e30, "maximum": 1e30}
_COUNT = {"type": "integer", "minimum": 0, "maximum": 2_147_483_647}
_KIND = {"enum": sorted(LARGEST_U)}
_LINE = {"type": "string", "maxLength": 64, "pattern": r"^[ -~ -￿]*$"}


def _object(**fields: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": fields,
        "required": list(fields),
        "additionalProperties": False,
    }


def _list(of: dict[str, Any], most: int, least: int = 0) -> dict[str, Any]:
    return {"type": "array", "items": of, "maxItems": most, "minItems": least}


def _or_null(of: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [of, {"type": "null"}]}


_VOTE = _object(
    recipe_sha256=_SHA256,
    kind=_KIND,
    person=_NAME,
    device=_NAME,
    vote=_NAME,
    bands={
        "type": "object",
        "propertyNames": {"pattern": "^[0-9]{1,3}(m|cm)$"},
        "additionalProperties": _NUMBER,
        "minProperties": 1,
        "maxProperties": 32,
    },
    u={"enum": list(U_CLASSES)},
    curve={
        "type": "string",
        "maxLength": 4 * ((2 * GRID_POINTS + 2) // 3),
        "pattern": "^[A-Za-z0-9+/]*={0,2}$",
    },
    quarter={"type": "string", "pattern": "^20[0-9]{2}-Q[1-4]$"},
)

_ROWS = _object(
    cores=_list(
        _object(
            key=_LINE,
            shape=_LINE,
            mix=_LINE,
            outer_mm=_or_null(_NUMBER),
            inner_mm=_or_null(_NUMBER),
            height_mm=_or_null(_NUMBER),
        ),
        MOST_DESIGNS,
    ),
    mixes=_list(_LINE, MOST_DESIGNS),
    conductors=_list(_LINE, MOST_DESIGNS),
)

SENDING = _object(
    form={"const": FORM},
    keeper=_SHA256,
    number=_COUNT,
    release=_COUNT,
    rows=_ROWS,
    designs=_list(
        _object(recipe_sha256=_SHA256, recipe_form=_COUNT, recipe={"type": "object"}), MOST_DESIGNS
    ),
    votes=_list(_VOTE, MOST_VOTES),
    sets=_list(
        _object(
            recipe_sha256=_SHA256,
            kind=_KIND,
            votes=_list(_list(_NAME, 3, 3), MOST_VOTES, 1),
        ),
        MOST_VOTES,
    ),
)


@cache
def _get_validator() -> Draft202012Validator:
    return Draft202012Validator(SENDING)


def check_sending(content: dict[str, Any]) -> None:
    """Refuse a sending that the schema does not describe. Raises BenchnightError `pool.sending`."""
    if content.get("form") != FORM:
        raise BenchnightError(
            "pool.form", f"This keeper takes sendings of form {FORM}. Update whichever server is older."
        )
    fault = next(iter(_get_validator().iter_errors(content)), None)
    if fault is not None:
        where = "/".join(str(part) for part in fault.absolute_path) or "the whole"
        raise BenchnightError("pool.sending", f"This sending is not as described, at {where[:120]}.")
