"""Stewards find that two designs are one, or that a typed core size is a listed core.

Nothing that was published changes by this: devices move at once, the evidence follows with the next release
under the rule of `disclosure.merged_designs`. It cannot be undone: what was merged has one past from then on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Core, CoreAlias, Design, Device
from measurements.services.designs import designs
from measurements.services.designs.recipe_cores import SIZE_KEYS
from measurements.services.designs.recipes import Recipe
from measurements.services.operations import audit


@dataclass(frozen=True)
class NamedCoreCounts:
    """What naming a typed size came to: designs that were merged into others, and ones that were renamed."""

    merged: int
    renamed: int


def merge_designs(*, by: Viewer, design: str, into: str) -> int:
    """Make `into` the design of every device of `design`; answers how many devices moved.

    Raises BenchnightError `design.not_found`, `design.merge_same`, `design.merged_already`.
    """
    policy.check_steward(by)
    with transaction.atomic():
        # both rows at once and in one order: two stewards may merge the same two the other way round
        list(Design.objects.select_for_update().filter(key__in=(design, into)).order_by("pk"))
        gone, survivor = _get_unmerged_design(design, "design"), _get_unmerged_design(into, "into")
        if gone == survivor:
            raise BenchnightError(
                "design.merge_same", "A design cannot be merged into itself; choose another.", field="into"
            )
        return _merge(by, gone, survivor)


def name_typed_core(
    *, by: Viewer, shape: str, outer_mm: float, inner_mm: float, height_mm: float, mix: str, part: str
) -> NamedCoreCounts:
    """Return from now on recipes typed with exactly this size and mix are of the listed core `part`.

    Designs that have it already become that core's: renamed, or merged where that design exists.
    Raises BenchnightError `core.unknown_part`, `core.other_shape`, `core.alias_taken`, `core.size_unused`.
    """
    policy.check_steward(by)
    size = {"outer_mm": outer_mm, "inner_mm": inner_mm, "height_mm": height_mm}
    core = _get_listed_core(part, shape)
    try:
        with transaction.atomic():
            CoreAlias.objects.create(shape=shape, mix=mix, core=core, **size)
            counts = _move_typed_designs(by, {"shape": shape, "mix": mix, **size})
            audit.record_action(
                by=by,
                action="core.name",
                subject=part,
                mix=mix,
                **size,
                merged=counts.merged,
                renamed=counts.renamed,
            )
    except IntegrityError as error:
        raise BenchnightError(
            "core.alias_taken", "This size was named already; nothing was changed.", kind="conflict"
        ) from error
    return counts


def _get_unmerged_design(key: str, field: str) -> Design:
    design = Design.objects.filter(key=key).first()
    if design is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found", field=field)
    if design.merged_into_id is not None:
        raise BenchnightError(
            "design.merged_already",
            "This design was merged into another meanwhile; look at that one.",
            kind="conflict",
            field=field,
        )
    return design


def _merge(by: Viewer, gone: Design, survivor: Design) -> int:
    # a conditional UPDATE decides between two stewards, because row locks are a silent no-op on SQLite
    if not Design.objects.standing().filter(pk=gone.pk).update(merged_into=survivor):
        raise BenchnightError(
            "design.merged_already", "This design was merged meanwhile.", kind="conflict", field="design"
        )
    Design.objects.filter(merged_into=gone).update(merged_into=survivor)
    moved = Device.objects.filter(design=gone).update(design=survivor, version=F("version") + 1)
    audit.record_action(by=by, action="design.merge", subject=gone.key, into=survivor.key, devices=moved)
    return moved


def _get_listed_core(part: str, shape: str) -> Core:
    core = Core.objects.filter(part=part).first()
    if core is None:
        raise BenchnightError(
            "core.unknown_part", "Choose a core of the list; add it first if it is missing.", field="part"
        )
    if core.shape != shape:
        raise BenchnightError(
            "core.other_shape", f"That part is a {core.shape}, what was typed is a {shape}.", field="part"
        )
    return core


def _move_typed_designs(by: Viewer, typed: dict[str, Any]) -> NamedCoreCounts:
    merged = renamed = 0
    for design in Design.objects.order_by("pk"):
        if not any(_is_typed(core, typed) for core in design.recipe["cores"]):
            continue
        normal = designs.preview_design(design.recipe)
        other = Design.objects.filter(recipe_sha256=normal.sha256).select_related("merged_into").first()
        if other is None:
            _rename(by, design, normal)  # also of a merged one: its recipe typed again still leads on
            renamed += 1
        elif design.merged_into_id is None and (survivor := other.merged_into or other) != design:
            _merge(by, design, survivor)
            merged += 1
    if not merged + renamed:
        raise BenchnightError(
            "core.size_unused", "No design has a core of exactly this size and mix.", field="outer_mm"
        )
    return NamedCoreCounts(merged, renamed)


def _is_typed(core: dict[str, Any], typed: dict[str, Any]) -> bool:
    return "part" not in core and all(core.get(key) == typed[key] for key in ("shape", "mix", *SIZE_KEYS))


def _rename(by: Viewer, design: Design, normal: Recipe) -> None:
    """Move a design to its true core: key, devices and evidence stay."""
    Design.objects.filter(pk=design.pk).update(
        recipe=normal.as_json,
        recipe_sha256=normal.sha256,
        title=normal.title,
        mix=normal.mix,
        core=normal.core,
    )
    audit.record_action(by=by, action="design.rename", subject=design.key)
