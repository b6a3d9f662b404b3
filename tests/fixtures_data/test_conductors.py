"""Conductor names: what a recipe may hold, and diameters that make sense."""

from __future__ import annotations

import re

import pytest

from tests.fixtures_data import reference_rows

INCH_MM = 25.4


def test_names_a_recipe_needs() -> None:
    names = [row["name"] for row in reference_rows.rows("conductors")]
    for name in ("RG-316", "RG-400", "RG-142", "RG-58", "RG-8X", "RG-174", "RG-303", "other"):
        assert name in names
    assert all(name == name.strip() and len(name) <= 64 for name in names)
    assert len({name.lower() for name in names}) == len(names)


@pytest.mark.parametrize(
    ("name", "inch"),
    [  # coaxial cable table, https://scribd.com/document/288288424/Coaxial-Cable-Specifications, second-hand
        ("RG-58", 0.195),
        ("RG-174", 0.101),
        ("RG-213", 0.405),
        ("RG-8X", 0.242),  # from memory
        ("RG-303", 0.170),  # from memory
        ("RG-400", 0.195),  # from memory
    ],
)
def test_coaxial_cable(name: str, inch: float) -> None:
    assert reference_rows.one("conductors", name=name)["outer_mm"] == pytest.approx(inch * INCH_MM, abs=0.02)


def bare_mm(name: str) -> float:
    """Bare wire of an enamelled name. AWG as in ASTM B258: 0.127 mm x 92^((36-n)/39)."""
    awg = re.fullmatch(r"enamelled copper AWG (\d+)", name)
    if awg:
        return 0.127 * 92 ** ((36 - int(awg[1])) / 39)
    return float(re.fullmatch(r"enamelled copper ([\d.]+) mm", name)[1])


def test_enamelled_wire_is_a_little_thicker_than_its_copper() -> None:
    enamelled = [row for row in reference_rows.rows("conductors") if row["name"].startswith("enamelled")]
    assert len(enamelled) == 20
    for row in enamelled:
        enamel_mm = row["outer_mm"] - bare_mm(row["name"])
        # build of grade 2 and heavy enamel between these sizes, IEC 60317-0-1 and NEMA MW 1000 (from memory)
        assert 0.035 < enamel_mm < 0.12, row


def test_wire_with_insulation_that_differs_has_no_diameter() -> None:
    for row in reference_rows.rows("conductors"):
        if "hook-up" in row["name"] or row["name"] == "other":
            assert row["outer_mm"] is None, row
