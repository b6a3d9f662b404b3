"""The limits: the common 20 dB and the house defaults, each told apart."""

from __future__ import annotations

import math

import pytest

from tests.fixtures_data import reference_rows


@pytest.mark.parametrize(
    ("kind", "metric", "value", "unit", "basis"),
    [
        ("common_mode", "rejection_db", 20, "dB", "common practice"),  # common practice, no source
        ("load_match", "swr", 1.5, "1", "house default"),
        ("insertion_loss", "loss_db", 0.5, "dB", "house default"),
        ("balance", "amplitude_imbalance_db", 1, "dB", "house default"),
        ("balance", "phase_imbalance_deg", 10, "deg", "house default"),
    ],
)
def test_limits(kind: str, metric: str, value: float, unit: str, basis: str) -> None:
    row = reference_rows.one("benchmarks", kind=kind, metric=metric)
    assert (row["value"], row["unit"], row["basis"]) == (value, unit, basis)


def test_no_other_limit() -> None:
    assert len(reference_rows.rows("benchmarks")) == 5


def test_the_impedances_named_beside_20_db() -> None:
    # series impedance between 50 and 50 ohm: |1 + Z/100| (C. Parker, Conformity, June 2008, p. 57)
    resistive_ohm, reactive_ohm = 900, math.sqrt(99) * 100
    assert 20 * math.log10(1 + resistive_ohm / 100) == pytest.approx(20)
    assert 20 * math.log10(abs(1 + 1j * reactive_ohm / 100)) == pytest.approx(20)
    note = reference_rows.one("benchmarks", metric="rejection_db")["note"]
    assert f"{resistive_ohm} ohm" in note
    assert f"{reactive_ohm:.0f} ohm" in note
