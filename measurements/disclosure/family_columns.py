"""The parts of a recipe that the designs of a family share."""

from __future__ import annotations

CORE_AND_TURNS = "core_and_turns"
MIX_AND_RATIO = "mix_and_ratio"

# A family pools designs that are alike in these columns; designs without a mix belong to none.
SHARED_COLUMNS: dict[str, tuple[str, ...]] = {
    CORE_AND_TURNS: ("core", "core_count", "turns", "mix"),
    MIX_AND_RATIO: ("mix", "ratio"),
}


def list_shared_columns(family: str, kind: str) -> tuple[str, ...]:
    """List the columns that the designs of a family share, for evidence of one kind of test.

    A rejection is of the winding alone; loss and match are of its ratio as well.
    """
    columns = SHARED_COLUMNS[family]
    return columns if kind == "common_mode" or "ratio" in columns else (*columns, "ratio")
