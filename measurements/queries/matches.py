"""Designs like a recipe that may be half typed, so that equal builds meet before a second design is made.

Recipes are public, and nothing but recipes is read here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from measurements.errors import BenchnightError
from measurements.models import Core, Design
from measurements.queries.rows import MatchRow
from measurements.rf.settings import parse_ratio, write_ratio

MOST = 5
MOST_DIFFERENCES = 3
MOST_TURNS_APART = 4  # further away is another device
SIZE_TOLERANCE = 0.01  # contract: a core within 1 % of a listed one is that listed one
_SIZES = ("outer_mm", "inner_mm", "height_mm")


def like(typed: Mapping[str, Any]) -> tuple[MatchRow, ...]:
    """Up to five designs that differ from `typed` in at most three things, the nearest first; two queries.

    typed: of the form of a recipe, any part of it missing or None; what is missing is no difference.
    Nothing is like a recipe that has neither core nor turns yet. Lengths are numbers in mm.
    """
    core, winding = _first_core(typed), typed.get("winding") or {}
    if not winding.get("turns") and not (core.get("part") or core.get("mix")):
        return ()
    listed = {row["part"]: row for row in Core.objects.values("part", "mix", *_SIZES)}
    found = []
    for key, title, recipe in _candidates(typed, core).values_list("key", "title", "recipe"):
        differs = _differences(typed, core, recipe, listed)
        if differs is not None and len(differs) <= MOST_DIFFERENCES:
            apart = abs(recipe["winding"]["turns"] - (winding.get("turns") or recipe["winding"]["turns"]))
            if apart <= MOST_TURNS_APART:
                found.append((len(differs), apart, title, MatchRow(key, title, tuple(differs))))
    return tuple(row for *_, row in sorted(found, key=lambda each: each[:3])[:MOST])


def _first_core(typed: Mapping[str, Any]) -> Mapping[str, Any]:
    cores = typed.get("cores") or [{}]
    return cores[0] or {}


def _candidates(typed: Mapping[str, Any], core: Mapping[str, Any]) -> QuerySet[Design]:
    designs = Design.objects.standing().order_by("title", "key")
    if typed.get("purpose"):
        designs = designs.filter(purpose=typed["purpose"])
    if core.get("part"):
        designs = designs.filter(core=core["part"])
    ratio = _ratio(typed.get("ratio"))
    return designs if ratio is None else designs.filter(ratio=ratio)


def _ratio(text: Any) -> str | None:
    """The ratio as designs have it; None while it is not one yet."""
    try:
        return write_ratio(parse_ratio(str(text or "")))
    except BenchnightError:
        return None


def _differences(
    typed: Mapping[str, Any],
    core: Mapping[str, Any],
    recipe: Mapping[str, Any],
    listed: Mapping[str, Mapping[str, Any]],
) -> list[str] | None:
    """What of the design differs, in its own words; None where its core is of another size."""
    theirs, winding = recipe["cores"][0], recipe["winding"]
    if not _same_size(core, {**theirs, **listed.get(theirs.get("part", ""), {})}):
        return None
    wanted = typed.get("winding") or {}
    separate = len(typed.get("cores") or ()) or None
    style = winding["style"].replace("_", " ")
    compared = (
        (wanted.get("turns"), winding["turns"], f"{winding['turns']} turns"),
        (_mix(core, listed), theirs["mix"], f"mix {theirs['mix']}"),
        (core.get("stacked"), theirs["stacked"], f"{theirs['stacked']} stacked"),
        (separate, len(recipe["cores"]), f"{len(recipe['cores'])} separate"),
        (wanted.get("style"), winding["style"], style),
        (wanted.get("conductor"), winding["conductor"], f"conductor {winding['conductor']}"),
        (wanted.get("split"), winding["split"], "split winding" if winding["split"] else "wound in one go"),
        (_principle(typed), recipe["principle"], recipe["principle"]),
    )
    return [words for own, other, words in compared if own not in (None, "") and own != other]


def _principle(typed: Mapping[str, Any]) -> Any:
    """A choke is a current device whatever stands in the field."""
    return None if typed.get("purpose") == "choke" else typed.get("principle")


def _mix(core: Mapping[str, Any], listed: Mapping[str, Mapping[str, Any]]) -> Any:
    return listed[core["part"]]["mix"] if core.get("part") in listed else core.get("mix")


def _same_size(core: Mapping[str, Any], theirs: Mapping[str, Any]) -> bool:
    """Whether every size that was typed is that of the design's core, within 1 %."""
    if core.get("part"):
        return True
    if core.get("shape") and core["shape"] != theirs["shape"]:
        return False
    for name in _SIZES:
        size, other = core.get(name), theirs.get(name)
        if size and (not other or abs(size / other - 1) > SIZE_TOLERANCE):
            return False
    return True
