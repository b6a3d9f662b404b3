"""A recipe as sentences, and as the object that `ingest.designs` takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.pages.words import SHAPES, STYLES

SIZES = (("outer_mm", "outside"), ("inner_mm", "inside"), ("height_mm", "high"))


def lines(recipe: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Pairs of heading and sentence: what it is, its cores, its winding."""
    winding = recipe["winding"]
    principle = "" if recipe["purpose"] == "choke" else f"{recipe['principle']} "
    style = STYLES.get(winding["style"], winding["style"])
    turns = winding["turns"]
    conductor = "" if winding["conductor"] == "other" else f", {winding['conductor']}"
    split = "wound in two halves across the core" if winding.get("split") else "wound in one go"
    return (
        ("What it is", f"{recipe['ratio']} {principle}{recipe['purpose']}"),
        *((label, text) for label, text in _core_lines(recipe["cores"])),
        ("Winding", f"{turns} turn{'' if turns == 1 else 's'} of {style}{conductor}, {split}"),
    )


def _core_lines(cores: list[Mapping[str, Any]]) -> list[tuple[str, str]]:
    counted: dict[str, int] = {}
    for core in cores:
        words = _core(core)
        counted[words] = counted.get(words, 0) + 1
    label = "Core" if len(cores) == 1 and cores[0].get("stacked", 1) == 1 else "Cores"
    return [(label, f"{count} times: {words}" if count > 1 else words) for words, count in counted.items()]


def _core(core: Mapping[str, Any]) -> str:
    stacked = core.get("stacked", 1)
    shape = SHAPES.get(core.get("shape", ""), "core")
    sizes = ", ".join(f"{core[key]:g} mm {words}" for key, words in SIZES if core.get(key) is not None)
    name = f"{shape} {core['part']}" if core.get("part") else f"{shape} {sizes}".strip()
    return (
        f"{stacked} stacked, each {name}, mix {core['mix']}" if stacked > 1 else f"{name}, mix {core['mix']}"
    )
