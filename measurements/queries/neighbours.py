"""Designs one step away: more or fewer turns, another mix, wire or stack, everything else the same."""

from __future__ import annotations

from typing import Any

from measurements.disclosure.circles import Viewer
from measurements.models import Core, Design
from measurements.queries import designs
from measurements.queries.rows import DesignRow, NeighbourRow

MOST = 8
MOST_TURNS_APART = 4
_COUNTS = {1: "one", 2: "two", 3: "three", 4: "four"}


def of_design(
    viewer: Viewer, own: DesignRow, *, bands: tuple[str, ...] = (), benchmark_db: float | None = None
) -> tuple[NeighbourRow, ...]:
    """Up to eight neighbours with evidence for this viewer on the bands asked, in a fixed number of queries.

    own: as `designs.one` gave it. Raises BenchnightError as that does.
    """
    sizes = {
        row[0]: tuple(row[1:])
        for row in Core.objects.values_list("part", "shape", "outer_mm", "inner_mm", "height_mm")
    }
    same_use = (
        Design.objects.standing()
        .filter(purpose=own.purpose, ratio=own.ratio)
        .exclude(key=own.key)
        .order_by("key")
    )
    steps = {}
    for other, recipe in same_use.values_list("key", "recipe"):
        step = step_between(own.recipe, recipe, sizes)
        if step is not None:
            steps[other] = step
    rows = designs.several(viewer, list(steps), bands=bands, benchmark_db=benchmark_db)
    seen = [NeighbourRow(steps[row.key], row) for row in rows if _has_evidence(row)]
    return tuple(sorted(seen, key=lambda each: (each.step, each.design.title))[:MOST])


def step_between(own: dict[str, Any], other: dict[str, Any], sizes: dict[str, Any]) -> str | None:
    """The one step from a recipe to another in words, None where it is none or more than one."""
    ours, theirs = _aspects(own, sizes), _aspects(other, sizes)
    differing = [name for name in ours if ours[name] != theirs[name]]
    if differing == ["turns"]:
        apart = theirs["turns"] - ours["turns"]
        if abs(apart) > MOST_TURNS_APART:
            return None
        return f"{_COUNTS[abs(apart)]} {'more' if apart > 0 else 'fewer'} turn{'s' if abs(apart) > 1 else ''}"
    words = {
        "mix": "same turns, other mix",
        "stack": "same turns, other stack",
        "wire": "same turns, other wire",
    }
    return words.get(differing[0]) if len(differing) == 1 else None


def _aspects(recipe: dict[str, Any], sizes: dict[str, Any]) -> dict[str, Any]:
    """A recipe taken apart into what a neighbour may differ in. A part counts by its size."""
    cores, winding = recipe["cores"], recipe["winding"]
    return {
        "principle": recipe["principle"],
        "size": sorted(str(_size(core, sizes)) for core in cores),
        "mix": sorted(core["mix"] for core in cores),
        "stack": sorted(core["stacked"] for core in cores),
        "turns": winding["turns"],
        "wire": (winding["style"], winding["conductor"], winding["split"]),
    }


def _size(core: dict[str, Any], sizes: dict[str, Any]) -> Any:
    listed = sizes.get(core.get("part", ""))
    return listed or (core["shape"], core.get("outer_mm"), core.get("inner_mm"), core.get("height_mm"))


def _has_evidence(row: DesignRow) -> bool:
    return any(shown["devices"] is not None for shown in row.evidence)
