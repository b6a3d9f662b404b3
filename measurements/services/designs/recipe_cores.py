"""The cores of a recipe in normal form: by the maker's part number where one fits, else by size.

Pure: the catalogue comes in as plain values. A toroid given by size within 1 % of a listed one of the
same mix is that listed one; a size that is not listed is taken as it is (contract, a recipe).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError, ErrorCollector, check_name_count

SHAPES = ("toroid", "binocular", "bead", "rod", "other")
SIZE_KEYS = ("outer_mm", "inner_mm", "height_mm")
SIZE_TOLERANCE = 0.01  # contract: within 1 % of a listed one is that listed one
MOST_CORES = 24
MOST_STACKED = 200  # beads threaded on a coax count as stacked; a long sleeve balun has over a hundred
MOST_MM = 500.0
_LENGTH = re.compile(r"^\s*([0-9]*[.,]?[0-9]+)\s*(mm|cm|in|inch|\")?\s*$", re.IGNORECASE)
_MM_PER = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, '"': 25.4}


@dataclass(frozen=True)
class ListedCore:
    """A row of the catalogue, as far as a recipe needs it."""

    part: str
    shape: str
    mix: str
    outer_mm: float | None
    inner_mm: float | None
    height_mm: float | None


@dataclass(frozen=True)
class Alias:
    """A size that is typed for a listed core which it is not within 1 % of, as a steward found."""

    shape: str
    mix: str
    outer_mm: float
    inner_mm: float
    height_mm: float
    part: str


def normalise_cores(
    given: Any, catalogue: Sequence[ListedCore], mixes: Sequence[str], aliases: Sequence[Alias] = ()
) -> list[dict[str, Any]]:
    """Return the cores in normal form, sorted, one entry per separate core or stack.

    Raises BenchnightError with every fault found, fields like `cores.0.mix`.
    """
    if not isinstance(given, list) or not 1 <= len(given) <= MOST_CORES:
        raise BenchnightError(
            "recipe.cores",
            f"Give 1 to {MOST_CORES} cores, each with a part number or a shape, size and mix.",
            field="cores",
        )
    faults = ErrorCollector("recipe.cores", "Some cores of the recipe need mending; see the list.")
    entries: list[dict[str, Any]] = []
    for index, core in enumerate(given):
        try:
            entry = _normalise_core(core, f"cores.{index}", catalogue, mixes)
            entries.append(_resolve_alias(entry, catalogue, aliases))
        except BenchnightError as error:
            faults.take(error)
    faults.raise_any()
    return sorted(entries, key=lambda entry: sorted((key, str(value)) for key, value in entry.items()))


def parse_length_mm(value: Any, field: str) -> float:
    """Return a length in mm from a number (mm) or a text such as `61`, `61 mm`, `2.4 in`.

    Raises BenchnightError `recipe.length`.
    """
    number = float(value) if _is_number(value) else _length_from_text(value)
    if number is None or not math.isfinite(number) or not 0 < number <= MOST_MM:
        raise BenchnightError(
            "recipe.length", f"Give a length up to {MOST_MM:g} mm, such as 61.0 or 2.4 in.", field=field
        )
    return round(number, 2)


def parse_whole_number(value: Any, field: str, low: int, high: int) -> int:
    """Return a whole number from `low` to `high`, given as a number or as digits.

    Raises BenchnightError `recipe.whole_number`.
    """
    text = value.strip() if isinstance(value, str) else value
    number = int(text) if isinstance(text, str) and text.isascii() and text.isdigit() else text
    if isinstance(number, float) and number.is_integer():
        number = int(number)
    if isinstance(number, bool) or not isinstance(number, int) or not low <= number <= high:
        raise BenchnightError(
            "recipe.whole_number", f"Give a whole number from {low} to {high}.", field=field
        )
    return number


def _normalise_core(
    core: Any, field: str, catalogue: Sequence[ListedCore], mixes: Sequence[str]
) -> dict[str, Any]:
    if not isinstance(core, Mapping):
        raise BenchnightError("recipe.core", "A core is an object with a part or a shape.", field=field)
    known = ("part", "shape", "mix", "stacked", *SIZE_KEYS)
    check_name_count(core, known, field)
    unknown = sorted(str(key) for key in core if key not in known)
    if unknown:
        raise BenchnightError(
            "recipe.unknown_field",
            f"A core has no {unknown[0][:40]!r}; it has {', '.join(sorted(known))}.",
            field=f"{field}.{unknown[0]}",
        )
    stacked = parse_whole_number(core.get("stacked", 1), f"{field}.stacked", 1, MOST_STACKED)
    for name in ("part", "mix"):
        if not isinstance(core.get(name, ""), str | int | None) or isinstance(core.get(name), bool):
            raise BenchnightError("recipe.text", "Give a text.", field=f"{field}.{name}")
    by_part = core.get("part") not in (None, "")
    entry = (
        _normalise_by_part(core, field, catalogue)
        if by_part
        else _normalise_by_size(core, field, catalogue, mixes)
    )
    return {**entry, "stacked": stacked}


def _normalise_by_part(
    core: Mapping[str, Any], field: str, catalogue: Sequence[ListedCore]
) -> dict[str, Any]:
    wanted = _squeeze_text(core["part"])
    for listed in catalogue:
        if _squeeze_text(listed.part) == wanted:
            if core.get("mix") not in (None, "") and _squeeze_text(core["mix"]) != _squeeze_text(listed.mix):
                raise BenchnightError(
                    "recipe.part_and_mix",
                    f"Part {listed.part} is mix {listed.mix}; leave the mix out or change the part.",
                    field=f"{field}.mix",
                )
            return {"part": listed.part, "shape": listed.shape, "mix": listed.mix}
    raise BenchnightError(
        "recipe.unknown_part",
        "This part number is not in the catalogue. Choose one from it, or give shape, size and mix instead.",
        field=f"{field}.part",
    )


def _normalise_by_size(
    core: Mapping[str, Any], field: str, catalogue: Sequence[ListedCore], mixes: Sequence[str]
) -> dict[str, Any]:
    shape = parse_choice(core.get("shape"), SHAPES, f"{field}.shape")
    mix = _mix(core.get("mix"), mixes, f"{field}.mix")
    sizes = {
        key: parse_length_mm(core[key], f"{field}.{key}")
        for key in SIZE_KEYS
        if core.get(key) not in (None, "")
    }
    if shape == "toroid":
        missing = [key for key in SIZE_KEYS if key not in sizes]
        if missing:
            raise BenchnightError(
                "recipe.size_missing",
                "A toroid needs its outer and inner diameter and its height.",
                field=f"{field}.{missing[0]}",
            )
        if sizes["inner_mm"] >= sizes["outer_mm"]:
            raise BenchnightError(
                "recipe.size_order",
                "The inner diameter must be below the outer one.",
                field=f"{field}.inner_mm",
            )
    listed = _find_listed_core_near(shape, mix, sizes, catalogue)
    if listed is not None:
        return {"part": listed.part, "shape": listed.shape, "mix": listed.mix}
    return {"shape": shape, "mix": mix, **sizes}


def _find_listed_core_near(
    shape: str, mix: str, sizes: Mapping[str, float], catalogue: Sequence[ListedCore]
) -> ListedCore | None:
    """Return the nearest listed toroid of the mix whose three sizes are all within 1 %; ties by part
    number.
    """
    if shape != "toroid":
        return None
    near: list[tuple[float, str, ListedCore]] = []
    for listed in catalogue:
        theirs = (listed.outer_mm, listed.inner_mm, listed.height_mm)
        if listed.shape != shape or listed.mix != mix or None in theirs:
            continue
        off = max(abs(sizes[key] / size - 1) for key, size in zip(SIZE_KEYS, theirs, strict=True) if size)
        if off <= SIZE_TOLERANCE + 1e-9:  # 1 % of 61.0 is 61.61 on paper, a hair more in binary
            near.append((off, listed.part, listed))
    return min(near, key=lambda entry: entry[:2])[2] if near else None


def _resolve_alias(
    entry: dict[str, Any], catalogue: Sequence[ListedCore], aliases: Sequence[Alias]
) -> dict[str, Any]:
    """Find the listed core of a typed size of this shape and mix; the entry itself
    otherwise.
    """
    for alias in aliases:
        if all(entry.get(key) == getattr(alias, key) for key in ("shape", "mix", *SIZE_KEYS)):
            core = next(listed for listed in catalogue if listed.part == alias.part)
            return {"part": core.part, "shape": core.shape, "mix": core.mix, "stacked": entry["stacked"]}
    return entry


def _mix(value: Any, mixes: Sequence[str], field: str) -> str:
    wanted = _squeeze_text(value).removeprefix("mix").lstrip("#") if value is not None else ""
    for mix in mixes:
        if _squeeze_text(mix) == wanted:
            return mix
    raise BenchnightError(
        "recipe.unknown_mix",
        f"Choose a mix from the list ({', '.join(mixes)}); 'unknown' if nobody knows it.",
        field=field,
    )


def parse_choice(value: Any, choices: Sequence[str], field: str) -> str:
    """Return one of `choices`, whatever the case and the separator it was written with."""
    wanted = str(value).strip().lower().replace(" ", "_").replace("-", "_") if value is not None else ""
    if wanted not in choices:
        raise BenchnightError("recipe.choice", f"Choose one of: {', '.join(choices)}.", field=field)
    return wanted


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _length_from_text(value: Any) -> float | None:
    match = _LENGTH.match(value) if isinstance(value, str) and len(value) < 24 else None
    if match is None:
        return None
    return float(match[1].replace(",", ".")) * _MM_PER[(match[2] or "mm").lower()]


def _squeeze_text(value: Any) -> str:
    return re.sub(r"[\s\-_]", "", str(value)).lower()
