"""Designs like a recipe that may be half typed, so that equal builds meet before a second design is made.

Recipes are public, and nothing but recipes is read here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Core, Design
from measurements.models.read_once import read_catalogue
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.selectors.designs import designs
from measurements.selectors.designs.rows import DesignRow, MatchRow, NeighbourRow

MOST_MATCHES = 5

MOST_DIFFERENCES = 3

MATCH_TURNS_APART = 4  # further away is another device

SIZE_TOLERANCE = 0.01  # contract: a core within 1 % of a listed one is that listed one

_SIZES = ("outer_mm", "inner_mm", "height_mm")


def list_similar_designs(typed: Mapping[str, Any]) -> tuple[MatchRow, ...]:
    """Return up to five designs that differ from `typed` in at most three things, the nearest first; two
    queries.

    typed: of the form of a recipe, any part of it missing or None; what is missing is no difference.
    Nothing is like a recipe that has neither core nor turns yet. Lengths are numbers in mm.
    """
    core, winding = _first_core(typed), typed.get("winding") or {}
    if not winding.get("turns") and not (core.get("part") or core.get("mix")):
        return ()
    listed = _read_listed_cores()
    found = []
    for key, title, recipe in _candidates(typed, core).values_list("key", "title", "recipe"):
        differs = _differences(typed, core, recipe, listed)
        if differs is not None and len(differs) <= MOST_DIFFERENCES:
            apart = abs(recipe["winding"]["turns"] - (winding.get("turns") or recipe["winding"]["turns"]))
            if apart <= MATCH_TURNS_APART:
                found.append((len(differs), apart, title, MatchRow(key, title, tuple(differs))))
    return tuple(row for *_, row in sorted(found, key=lambda each: each[:3])[:MOST_MATCHES])


@read_catalogue
def _read_listed_cores() -> dict[str, dict[str, Any]]:
    return {row["part"]: row for row in Core.objects.values("part", "shape", "mix", *_SIZES)}


def _first_core(typed: Mapping[str, Any]) -> Mapping[str, Any]:
    cores = typed.get("cores") or [{}]
    return cores[0] or {}


def _candidates(typed: Mapping[str, Any], core: Mapping[str, Any]) -> QuerySet[Design]:
    designs = Design.objects.standing().order_by("title", "key")
    if typed.get("purpose"):
        designs = designs.filter(purpose=typed["purpose"])
    if core.get("part"):
        designs = designs.filter(core=core["part"])
    ratio = _parse_typed_ratio(typed.get("ratio"))
    return designs if ratio is None else designs.filter(ratio=ratio)


def _parse_typed_ratio(text: Any) -> str | None:
    """Return the ratio as designs have it; None while it is not one yet."""
    try:
        return format_ratio(parse_ratio(str(text or "")))
    except BenchnightError:
        return None


def _differences(
    typed: Mapping[str, Any],
    core: Mapping[str, Any],
    recipe: Mapping[str, Any],
    listed: Mapping[str, Mapping[str, Any]],
) -> list[str] | None:
    """Describe how the design differs; None where its core is of another size."""
    theirs, winding = recipe["cores"][0], recipe["winding"]
    if not _same_size(core, {**theirs, **listed.get(theirs.get("part", ""), {})}):
        return None
    wanted = typed.get("winding") or {}
    separate = len(typed.get("cores") or ()) or None
    style = winding["style"].replace("_", " ")
    compared = (
        (wanted.get("turns"), winding["turns"], f"{winding['turns']} turns"),
        (_core_mix(core, listed), theirs["mix"], f"mix {theirs['mix']}"),
        (core.get("stacked"), theirs["stacked"], f"{theirs['stacked']} stacked"),
        (separate, len(recipe["cores"]), f"{len(recipe['cores'])} separate"),
        (wanted.get("style"), winding["style"], style),
        (wanted.get("conductor"), winding["conductor"], f"conductor {winding['conductor']}"),
        (wanted.get("split"), winding["split"], "split winding" if winding["split"] else "wound in one go"),
        (_principle(typed), recipe["principle"], recipe["principle"]),
    )
    return [words for own, other, words in compared if own not in (None, "") and own != other]


def _principle(typed: Mapping[str, Any]) -> Any:
    """Return the principle of a recipe; a choke is a current device whatever its field says."""
    return None if typed.get("purpose") == "choke" else typed.get("principle")


def _core_mix(core: Mapping[str, Any], listed: Mapping[str, Mapping[str, Any]]) -> Any:
    return listed[core["part"]]["mix"] if core.get("part") in listed else core.get("mix")


def _same_size(core: Mapping[str, Any], theirs: Mapping[str, Any]) -> bool:
    """Say whether every size that was typed is that of the design's core, within 1 %."""
    if core.get("part"):
        return True
    if core.get("shape") and core["shape"] != theirs["shape"]:
        return False
    for name in _SIZES:
        size, other = core.get(name), theirs.get(name)
        if size and (not other or abs(size / other - 1) > SIZE_TOLERANCE):
            return False
    return True


# Designs one step away: more or fewer turns, another mix, wire or stack, everything else the same.

MOST_NEIGHBOURS = 8

NEIGHBOUR_TURNS_APART = 4

_COUNT_WORDS = {1: "one", 2: "two", 3: "three", 4: "four"}


def list_neighbours(
    viewer: Viewer, own: DesignRow, *, bands: tuple[str, ...] = (), **limits: float | None
) -> tuple[NeighbourRow, ...]:
    """Return up to eight neighbours with evidence for this viewer on the bands asked, in a fixed number of
    queries.

    own: as `designs.get_design` gave it; its kind of test is that of the neighbours. limits: as that takes
    them. Raises BenchnightError as that does.
    """
    sizes = {
        part: (core["shape"], *(core[size] for size in _SIZES)) for part, core in _read_listed_cores().items()
    }
    same_use = (
        Design.objects.standing()
        .filter(purpose=own.purpose, ratio=own.ratio)
        .exclude(key=own.key)
        .order_by("key")
    )
    steps = {}
    for other, recipe in same_use.values_list("key", "recipe"):
        step = describe_step(own.recipe, recipe, sizes)
        if step is not None:
            steps[other] = step
    rows = designs.list_designs_by_key(viewer, list(steps), bands=bands, kind=own.kind, **limits)
    seen = [NeighbourRow(steps[row.key], row) for row in rows if _has_evidence(row)]
    return tuple(sorted(seen, key=lambda each: (each.step, each.design.title))[:MOST_NEIGHBOURS])


def describe_step(own: dict[str, Any], other: dict[str, Any], sizes: dict[str, Any]) -> str | None:
    """Return the one step from a recipe to another in words, None where it is none or more than one."""
    ours, theirs = _aspects(own, sizes), _aspects(other, sizes)
    differing = [name for name in ours if ours[name] != theirs[name]]
    if differing == ["turns"]:
        apart = theirs["turns"] - ours["turns"]
        if abs(apart) > NEIGHBOUR_TURNS_APART:
            return None
        turns = "turns" if abs(apart) > 1 else "turn"
        return f"{_COUNT_WORDS[abs(apart)]} {'more' if apart > 0 else 'fewer'} {turns}"
    words = {
        "mix": "same turns, other mix",
        "stack": "same turns, other stack",
        "wire": "same turns, other wire",
    }
    return words.get(differing[0]) if len(differing) == 1 else None


def _aspects(recipe: dict[str, Any], sizes: dict[str, Any]) -> dict[str, Any]:
    """Return a recipe taken apart into what a neighbour may differ in. A part counts by its size."""
    cores, winding = recipe["cores"], recipe["winding"]
    return {
        "principle": recipe["principle"],
        "size": sorted(str(_core_size(core, sizes)) for core in cores),
        "mix": sorted(core["mix"] for core in cores),
        "stack": sorted(core["stacked"] for core in cores),
        "turns": winding["turns"],
        "wire": (winding["style"], winding["conductor"], winding["split"]),
    }


def _core_size(core: dict[str, Any], sizes: dict[str, Any]) -> Any:
    listed = sizes.get(core.get("part", ""))
    return listed or (core["shape"], core.get("outer_mm"), core.get("inner_mm"), core.get("height_mm"))


def _has_evidence(row: DesignRow) -> bool:
    return any(shown["devices"] is not None for shown in row.evidence)
