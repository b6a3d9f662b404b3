"""A database from before evidence was packed keeps every figure, forward and back."""

from __future__ import annotations

import struct
import uuid

import pytest

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE, AFTER = ("measurements", "0004_night_devices"), ("measurements", "0005_packed_evidence")
ROWS = {
    "80m": ("full", 18.25, 21.5, 24.75, 612.3, 845.0),
    "20m": ("interpolated", 30.01, 31.0, 33.33, None, None),
}
NAMES = (
    "coverage",
    "rejection_worst_db",
    "rejection_centre_db",
    "rejection_best_db",
    "resistance_smallest_ohm",
    "impedance_smallest_ohm",
)


def test_rows_become_a_block_and_rows_again(go_to):
    model = go_to(BEFORE)
    design = model("measurements", "Design").objects.create(
        key="testdesign22", recipe={}, recipe_sha256="0" * 64, title="t", core_count=1, turns=9
    )
    cell = model("measurements", "Cell").objects.create(
        design=design, first_release=1, devices=1, contributors=1, bands=["80m", "40m", "20m"], worst_db=b""
    )
    sample = model("measurements", "EvidenceSample").objects.create(
        id=uuid.uuid4(), cell=cell, month="2026-05", method="s21", curve=b""
    )
    row = model("measurements", "EvidenceRow")
    for band, figures in ROWS.items():
        row.objects.create(sample=sample, band=band, **dict(zip(NAMES, figures, strict=True)))

    packed = go_to(AFTER)("measurements", "EvidenceSample").objects.get()
    assert packed.coverage == "f-i"
    values = struct.unpack("<15f", bytes(packed.figures))
    assert values[0] == pytest.approx(18.25) and values[10] == pytest.approx(30.01)
    assert all(value != value for value in (*values[5:10], *values[13:]))

    found = go_to(BEFORE)("measurements", "EvidenceRow").objects.values_list("band", *NAMES)
    assert {band: tuple(figures) for band, *figures in found} == ROWS
