"""Resistor values and equivalents against common practice and published tables."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import skrf

from measurements.pages.guide import resistors


@pytest.mark.parametrize(
    ("ratio", "load", "series"),
    [(1, 50, 0), (4, 200, 150), (9, 450, 400), (49, 2450, 2400)],  # common practice, no source
)
def test_load_and_series_resistor(ratio: int, load: float, series: float):
    assert resistors.load_ohm(Fraction(ratio)) == load
    assert resistors.series_ohm(Fraction(ratio)) == series


def cells(table, row: int) -> dict[str, str]:
    return {found[0]: found[row] for found in table.rows}


def test_tables_show_these_values():
    loads, series = cells(resistors.build_load_table(), 1), cells(resistors.build_series_table(), 1)
    assert (loads["1:1"], loads["4:1"], loads["9:1"], loads["49:1"]) == ("50", "200", "450", "2,450")
    assert (series["1:1"], series["4:1"], series["9:1"]) == ("none", "150", "400")


def test_floors_are_the_published_ones():
    """Ideal 4:1 1.938 dB, 9:1 4.437 dB: the mismatch of the ratio itself, closed form; shown to 0.01 dB."""
    floors = cells(resistors.build_floor_table(), 1)
    assert (floors["1:1"], floors["4:1"], floors["9:1"]) == ("0.00", "1.94", "4.44")


@pytest.mark.parametrize(("ratio", "taken_db"), [("4:1", 6.0206), ("9:1", 9.5424), ("49:1", 16.9020)])
def test_what_the_series_resistor_takes(ratio: str, taken_db: float):
    """S21 of an ideal transformer with its series resistor, 50 to 200, 450, 2450: computed independently."""
    assert float(cells(resistors.build_series_table(), 3)[ratio]) == pytest.approx(taken_db, abs=0.005)


@pytest.mark.parametrize(
    ("level", "ohm"), [(10, 216), (15, 462), (20, 900), (25, 1678), (30, 3062), (40, 9900)]
)
def test_resistive_equivalents(level: int, ohm: float):
    """Resistive equivalents of a rejection, closed form."""
    assert resistors.resistive_ohm(level) == pytest.approx(ohm, abs=0.5)


@pytest.mark.parametrize("level", resistors.EQUIVALENTS_DB)
def test_equivalents_in_a_simulated_circuit(level: int):
    """scikit-rf: a series impedance between two 50-ohm ports."""
    line = skrf.media.DefinedGammaZ0(skrf.Frequency(10, 10, 1, "MHz"), z0=50)
    wanted = 10 ** (-level / 20)
    resistor = line.resistor(resistors.resistive_ohm(level))
    assert abs(resistor.s[0, 1, 0]) == pytest.approx(wanted, rel=1e-9)
    coil = line.inductor(resistors.reactive_ohm(level) / (2 * np.pi * 10e6))
    assert abs(coil.s[0, 1, 0]) == pytest.approx(wanted, rel=1e-9)


def value_ohm(words: str) -> float:
    """What the words about parts amount to, by Ohm's law."""
    match words.replace(",", "").split():
        case ["one", "of", part]:
            return float(part)
        case ["two", "of", part, "in", "parallel"]:
            return float(part) / 2
        case ["two", "of", part, "in", "series"]:
            return float(part) * 2
        case [first, "and", second, "in", "series"]:
            return float(first) + float(second)
    raise AssertionError(words)


@pytest.mark.parametrize("target", [50, 100, 150, 200, 300, 400, 450, 750, 800, 2400, 2450, 3150, 3200])
def test_the_parts_named_make_the_value(target: float):
    """Within 0.5 %, and every part of the E24 series of IEC 60063 (listed here anew, from memory)."""
    words = resistors.choose_standard_resistor(target)
    assert value_ohm(words) == pytest.approx(target, rel=0.005)
    series = {1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0}
    series |= {3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1}
    for part in (float(word) for word in words.replace(",", "").split() if word.isdigit()):
        assert round(part / 10 ** int(np.floor(np.log10(part))), 6) in series


def test_no_part_for_no_resistance():
    assert resistors.choose_standard_resistor(0) == "a plain wire"
