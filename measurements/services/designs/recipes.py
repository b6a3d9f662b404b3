"""A recipe in normal form, so that equal builds meet whatever order, case or unit they were typed in.

Pure: reference data comes in as plain values. The normal form is published, hence no free text in it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError, ErrorCollector, check_name_count
from measurements.rf.ferrites.core_names import Size
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.services.designs import recipe_cores
from measurements.services.designs.recipe_cores import Alias, ListedCore, parse_choice, parse_whole_number
from measurements.services.designs.recipe_titles import build_title

PURPOSES = ("choke", "balun", "unun")
PRINCIPLES = ("current", "voltage", "hybrid")
STYLES = ("coax", "bifilar", "twisted_pair", "trifilar", "parallel_wires", "single", "beads_on_coax")
MOST_TURNS = 200
UNKNOWN_MIX = "unknown"
OTHER_CONDUCTOR = "other"


@dataclass(frozen=True)
class Catalogue:
    """The reference data that a recipe is checked against."""

    cores: tuple[ListedCore, ...]
    mixes: tuple[str, ...]
    conductors: tuple[str, ...]
    aliases: tuple[Alias, ...] = ()

    @property
    def sizes_mm(self) -> dict[str, Size]:
        """Look up outer and inner diameter and height by part number."""
        return {core.part: (core.outer_mm, core.inner_mm, core.height_mm) for core in self.cores}


@dataclass(frozen=True)
class Recipe:
    """The normal form (`as_json`), what it is filed under, and its readable title."""

    as_json: dict[str, Any]
    sha256: str
    title: str
    mix: str
    core: str
    core_count: int


def normalise_recipe(given: Any, catalogue: Catalogue) -> Recipe:
    """Return the one normal form of what a member typed.

    Raises BenchnightError with every fault, fields like `winding.turns`.
    """
    if not isinstance(given, Mapping):
        raise BenchnightError("recipe.shape", "A recipe is an object; see the API's description of one.")
    faults = ErrorCollector("recipe.invalid", "Some fields of the recipe need mending; see the list.")
    _refuse_unknown(given, ("purpose", "principle", "ratio", "cores", "winding"), "", faults)
    as_json = {
        "purpose": _collect_errors(faults, lambda: parse_choice(given.get("purpose"), PURPOSES, "purpose")),
        "principle": _collect_errors(
            faults, lambda: parse_choice(_principle(given), PRINCIPLES, "principle")
        ),
        "ratio": _collect_errors(faults, lambda: _ratio(given)),
        "cores": _collect_errors(
            faults,
            lambda: recipe_cores.normalise_cores(
                given.get("cores"), catalogue.cores, catalogue.mixes, catalogue.aliases
            ),
        ),
        "winding": _collect_errors(faults, lambda: _winding(given.get("winding"), catalogue.conductors)),
    }
    faults.raise_any()
    return _build_recipe(as_json, catalogue)


def _collect_errors(faults: ErrorCollector, check: Any) -> Any:
    try:
        return check()
    except BenchnightError as error:
        faults.take(error)
        return None


def _refuse_unknown(
    given: Mapping[str, Any], known: Sequence[str], prefix: str, faults: ErrorCollector
) -> None:
    check_name_count(given, known, prefix.removesuffix(".") or None)
    for key in given:
        if key not in known:
            faults.add(
                f"{prefix}{key}",
                "recipe.unknown_field",
                f"There is no such field; known: {', '.join(known)}.",
            )


def _principle(given: Mapping[str, Any]) -> Any:
    """Read the principle; a choke is current by definition, so only other devices have to say it."""
    if given.get("purpose") == "choke" and given.get("principle") in (None, ""):
        return "current"
    return given.get("principle")


def _ratio(given: Mapping[str, Any]) -> str:
    ratio = parse_ratio(str(given.get("ratio", "")))
    if given.get("purpose") == "choke" and ratio != 1:
        raise BenchnightError(
            "recipe.choke_ratio",
            "A choke has the ratio 1:1; a device that transforms is a balun or an unun.",
            field="ratio",
        )
    return format_ratio(ratio)


def _winding(given: Any, conductors: Sequence[str]) -> dict[str, Any]:
    if not isinstance(given, Mapping):
        raise BenchnightError(
            "recipe.winding", "Describe the winding: turns, style, split, conductor.", field="winding"
        )
    faults = ErrorCollector("recipe.winding", "Some fields of the winding need mending; see the list.")
    _refuse_unknown(given, ("turns", "style", "split", "conductor"), "winding.", faults)
    winding = {
        "turns": _collect_errors(
            faults, lambda: parse_whole_number(given.get("turns"), "winding.turns", 1, MOST_TURNS)
        ),
        "style": _collect_errors(faults, lambda: parse_choice(given.get("style"), STYLES, "winding.style")),
        "split": _collect_errors(faults, lambda: _yes_or_no(given.get("split", False), "winding.split")),
        "conductor": _collect_errors(
            faults, lambda: _conductor(given.get("conductor", OTHER_CONDUCTOR), conductors)
        ),
    }
    faults.raise_any()
    return winding


def _yes_or_no(value: Any, field: str) -> bool:
    if isinstance(value, bool):
        return value
    raise BenchnightError("recipe.yes_or_no", "Give true or false.", field=field)


def _conductor(value: Any, conductors: Sequence[str]) -> str:
    wanted = squeeze_conductor_name(str(value))
    for name in (*conductors, OTHER_CONDUCTOR):
        if squeeze_conductor_name(name) == wanted:
            return name
    raise BenchnightError(
        "recipe.unknown_conductor",
        "Choose a conductor from the list, or 'other': a recipe is published, so it holds no free text.",
        field="winding.conductor",
    )


def squeeze_conductor_name(name: str) -> str:
    """Return a conductor's name without what spellings differ in."""
    return "".join(name.lower().split()).replace("-", "").replace("/", "")


def hash_recipe(as_json: Mapping[str, Any]) -> str:
    """Hash a recipe in normal form: equal builds meet by this, on every server alike."""
    canonical = json.dumps(as_json, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(canonical.encode()).hexdigest()


def _build_recipe(as_json: dict[str, Any], catalogue: Catalogue) -> Recipe:
    cores: list[dict[str, Any]] = as_json["cores"]
    return Recipe(
        as_json=as_json,
        sha256=hash_recipe(as_json),
        title=build_title(as_json, catalogue.sizes_mm),
        mix="+".join(sorted({core["mix"] for core in cores}))[:16],
        core=" + ".join(dict.fromkeys(_core_name(core) for core in cores))[:64],
        core_count=sum(core["stacked"] for core in cores),
    )


def _core_name(core: Mapping[str, Any]) -> str:
    if "part" in core:
        return str(core["part"])
    sizes = "/".join(f"{core[key]:g}" for key in recipe_cores.SIZE_KEYS if key in core)
    return f"{core['shape']} {sizes} mm" if sizes else str(core["shape"])
