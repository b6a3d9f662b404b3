"""What may be one and the same: typed sizes near a listed core, and designs near each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from django.db.models import Count

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Core, Design

NEAR_SIZE = 0.02  # house default: twice what a recipe takes for the listed size by itself
MOST_ROWS = 100
_SIZES = ("outer_mm", "inner_mm", "height_mm")


@dataclass(frozen=True)
class TypedCoreRow:
    """A size that members typed, how many designs have it, and listed cores near it, the nearest first."""

    shape: str
    mix: str
    outer_mm: float
    inner_mm: float
    height_mm: float
    designs: int
    near: tuple[NearCoreRow, ...]


@dataclass(frozen=True)
class NearCoreRow:
    """A listed core and how far its size is off, in percent at most."""

    part: str
    outer_mm: float
    inner_mm: float
    height_mm: float
    off_percent: float


@dataclass(frozen=True)
class MergePairRow:
    """Two designs that may be one. Proposed: the second survives (a listed core, then more devices)."""

    design: str
    title: str
    devices: int
    into: str
    into_title: str
    into_devices: int
    differs: str


@dataclass(frozen=True)
class MergeDesignRow:
    """A design to be merged, or to merge into."""

    key: str
    title: str
    devices: int


def list_typed_cores(viewer: Viewer) -> tuple[TypedCoreRow, ...]:
    """Return sizes of designs that stand, typed in full, with a listed core of shape and mix within 2 %."""
    policy.check_steward(viewer)
    listed = list(Core.objects.exclude(outer_mm=None).exclude(inner_mm=None).exclude(height_mm=None))
    used: dict[tuple[Any, ...], int] = defaultdict(int)
    for recipe in Design.objects.standing().values_list("recipe", flat=True):
        for core in {_typed_size(core) for core in recipe["cores"]} - {None}:
            used[core] += 1  # type: ignore[index]
    rows = []
    for (shape, mix, *size), designs in used.items():
        near = [
            NearCoreRow(core.part, *_listed_size(core), round(off * 100, 2))
            for core in listed
            if (core.shape, core.mix) == (shape, mix)
            and (off := _size_difference(size, _listed_size(core))) <= NEAR_SIZE + 1e-9
        ]
        if near:
            ordered = tuple(sorted(near, key=lambda row: (row.off_percent, row.part)))
            rows.append(TypedCoreRow(shape, mix, *size, designs, ordered))
    return tuple(sorted(rows, key=lambda row: (-row.designs, row.shape, row.outer_mm))[:MOST_ROWS])


def list_merge_pairs(viewer: Viewer) -> tuple[MergePairRow, ...]:
    """Return designs equal in all but a core size within 2 %, or but a conductor that one of them leaves
    open.
    """
    policy.check_steward(viewer)
    sizes = {core.part: _listed_size(core) for core in Core.objects.all()}
    designs = Design.objects.standing().annotate(devices_of=Count("devices")).order_by("key")
    alike: dict[str, list[Any]] = defaultdict(list)
    for design in designs.iterator(chunk_size=500):
        alike[_likeness(design.recipe)].append(design)
    rows = []
    for group in alike.values():
        for one, other in combinations(group, 2):
            differs = _difference(one.recipe, other.recipe, sizes)
            if differs:
                rows.append(_merge_pair_row(one, other, differs))
    return tuple(
        sorted(rows, key=lambda row: (-row.devices - row.into_devices, row.title, row.design))[:MOST_ROWS]
    )


def get_merge_design(viewer: Viewer, key: str) -> MergeDesignRow:
    """Return a design that stands. Raises BenchnightError `design.not_found`."""
    policy.check_steward(viewer)
    found = Design.objects.standing().annotate(devices_of=Count("devices")).filter(key=key).first()
    if found is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    return MergeDesignRow(found.key, found.title, found.devices_of)


def _likeness(recipe: Mapping[str, Any]) -> str:
    """Return all of a recipe that must agree: everything but sizes, parts and the conductor."""
    winding = recipe["winding"]
    cores = sorted((core["shape"], core["mix"], core["stacked"]) for core in recipe["cores"])
    use = (recipe["purpose"], recipe["principle"], recipe["ratio"])
    return repr((use, cores, winding["turns"], winding["style"], winding["split"]))


def _difference(one: Mapping[str, Any], other: Mapping[str, Any], sizes: Mapping[str, Any]) -> str:
    """Return in which way they differ, in words; empty where they are too far apart to be one."""
    found = []
    wires = one["winding"]["conductor"], other["winding"]["conductor"]
    if wires[0] != wires[1]:
        if "other" not in wires:
            return ""
        found.append("conductor left open")
    off = 0.0
    for own, theirs in _pair_sizes(one["cores"], other["cores"], sizes):
        if own == theirs:
            continue
        if None in (*own, *theirs):
            return ""
        off = max(off, _size_difference(own, theirs))
    if off > NEAR_SIZE + 1e-9:
        return ""
    if off:
        found.append(f"core size {off * 100:.1f} % apart")
    return ", ".join(found)


def _pair_sizes(ours: list[Any], theirs: list[Any], sizes: Mapping[str, Any]) -> Iterator[tuple[Any, Any]]:
    """Return sizes of the cores side by side, the largest first."""
    sorted_sizes = [
        sorted((_recipe_size(core, sizes) for core in cores), key=str) for cores in (ours, theirs)
    ]
    return zip(*sorted_sizes, strict=True)


def _recipe_size(core: Mapping[str, Any], sizes: Mapping[str, Any]) -> tuple[float | None, ...]:
    if "part" in core:
        return tuple(sizes.get(core["part"], (None,) * 3))
    return tuple(core.get(name) for name in _SIZES)


def _typed_size(core: Mapping[str, Any]) -> tuple[Any, ...] | None:
    """Return shape, mix and sizes of a core that was given by its size, in full."""
    if "part" in core or any(core.get(name) is None for name in _SIZES):
        return None
    return (core["shape"], core["mix"], *(core[name] for name in _SIZES))


def _listed_size(core: Core) -> tuple[Any, Any, Any]:
    return core.outer_mm, core.inner_mm, core.height_mm


def _size_difference(own: Any, theirs: Any) -> float:
    return max(abs(one / other - 1) for one, other in zip(own, theirs, strict=True))


def _merge_pair_row(one: Any, other: Any, differs: str) -> MergePairRow:
    gone, stays = sorted((one, other), key=lambda each: (_count_named_parts(each), each.devices_of, each.key))
    return MergePairRow(
        gone.key, gone.title, gone.devices_of, stays.key, stays.title, stays.devices_of, differs
    )


def _count_named_parts(design: Any) -> int:
    """Return cores by part number and a named conductor speak for the design that should stay."""
    known = sum("part" in core for core in design.recipe["cores"])
    return known + (design.recipe["winding"]["conductor"] != "other")
