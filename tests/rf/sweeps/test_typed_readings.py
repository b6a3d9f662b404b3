"""Readings typed in: strict, sorted, never a surprise."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.rf.sweeps.typed_readings import parse_readings


def item(frequency_hz: object, value: object) -> dict[str, object]:
    return {"frequency_hz": frequency_hz, "value": value}


def test_readings_come_back_sorted() -> None:
    readings = parse_readings([item(14_100_000, 25), item(7_100_000.0, 31.2)])
    assert readings.freq_hz.tolist() == [7.1e6, 14.1e6]
    assert readings.value.tolist() == [31.2, 25.0]


def test_a_thousand_are_taken_and_one_more_is_not() -> None:
    many = [item(k + 1, 20.0) for k in range(1_001)]
    assert len(parse_readings(many[:1_000]).value) == 1_000
    with pytest.raises(BenchnightError) as caught:
        parse_readings(many)
    assert (caught.value.code, caught.value.kind) == ("readings.too_many", "too_large")


REFUSED = {
    "empty": ([], "empty", None),
    "text": ("frequency_hz", "shape", None),
    "mapping": ({"frequency_hz": 1, "value": 2}, "shape", None),
    "number": ([7], "shape", 1),
    "key missing": ([{"frequency_hz": 1}], "shape", 1),
    "key too many": ([item(1, 2) | {"note": "x"}], "shape", 1),
    "text for a number": ([item(1, 2), item("7100000", 2)], "not_a_number", 2),
    "truth for a number": ([item(1, True)], "not_a_number", 1),
    "none": ([item(1, None)], "not_a_number", 1),
    "nan": ([item(1, float("nan"))], "not_finite", 1),
    "infinite": ([item(float("inf"), 1)], "not_finite", 1),
    "beyond floats": ([item(10**400, 1)], "not_finite", 1),
    "frequency 0": ([item(0, 1)], "frequency", 1),
    "frequency negative": ([item(-7e6, 1)], "frequency", 1),
    "frequency beyond": ([item(1e13, 1)], "frequency", 1),
    "negative": ([item(7e6, -31)], "value", 1),
    "beyond": ([item(7e6, 1e7)], "value", 1),
    "twice": ([item(7e6, 20), item(8e6, 20), item(7e6, 21)], "duplicate", 3),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals(case: str) -> None:
    items, code, line = REFUSED[case]
    with pytest.raises(BenchnightError) as caught:
        parse_readings(items, field="readings")
    assert (caught.value.code, caught.value.line) == (f"readings.{code}", line)
    assert caught.value.field == "readings"


def test_an_swr_is_at_least_1() -> None:
    assert parse_readings([item(7e6, 1.0)], least=1.0).value.tolist() == [1.0]
    with pytest.raises(BenchnightError, match="at least 1"):
        parse_readings([item(7e6, 0.9)], least=1.0)
