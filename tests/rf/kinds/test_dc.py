"""`dc`: readings held against the type, on resistor networks that the test solves for itself.

A device is conductances between its terminals (Kirchhoff; textbook), so what a meter reads between two of
them
follows without the code under test. What each type should show: trade practice, no source.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.analysis import analyse
from measurements.rf.kinds import dc
from measurements.rf.request import Request

PAIRS = list(combinations("CSAB", 2))
COPPER_OHM = 0.05
ONE_TO_ONE = {("C", "A"): COPPER_OHM, ("S", "B"): COPPER_OHM}
# two lines, inputs in parallel and outputs in series: each line carries both wires through
TWO_LINES = {("C", "A"): COPPER_OHM, ("S", "m1"): COPPER_OHM, ("C", "m1"): COPPER_OHM, ("S", "B"): COPPER_OHM}
AUTO = {("S", "B"): COPPER_OHM, ("S", "C"): COPPER_OHM, ("C", "A"): COPPER_OHM}
TYPES = {"current_1_1": ONE_TO_ONE, "all_joined": AUTO}


def read_meter(parts: dict[tuple[str, str], float], one: str, other: str) -> float | None:
    """What a meter shows between two terminals: 1 A in, the voltage out; None beyond 100 megohm."""
    nodes = sorted({*"CSAB", *(node for pair in parts for node in pair)})
    at = {node: index for index, node in enumerate(nodes)}
    matrix = np.eye(len(nodes)) * 1e-9  # what the meter itself leaks
    for (start, end), ohm in parts.items():
        a, b = at[start], at[end]
        matrix[a, a] += 1 / ohm
        matrix[b, b] += 1 / ohm
        matrix[a, b] -= 1 / ohm
        matrix[b, a] -= 1 / ohm
    current = np.zeros(len(nodes))
    current[at[one]], current[at[other]] = 1, -1
    volts = np.linalg.solve(matrix, current)
    ohm = float(volts[at[one]] - volts[at[other]])
    return None if ohm > 1e8 else round(ohm, 4)


def summary(parts, dc_type, pairs=PAIRS, options=(), **more):
    readings = tuple(dc.DcReading(one, other, read_meter(parts, one, other)) for one, other in pairs)
    result = analyse(Request("dc", dc=dc.DcReadings(readings, dc_type, options, **more))).result
    assert result["bands"] == [] and result["kind"] == "dc" and result["span"]["points"] == 0
    return result


@pytest.mark.parametrize("dc_type", TYPES)
def test_a_healthy_device_conducts_where_it_should(dc_type):
    found = summary(TYPES[dc_type], dc_type)["summary"]
    assert found["meets"] is True and all(row["holds"] for row in found["readings"])
    assert found["shows_broken_wire"] is (dc_type == "current_1_1")


@pytest.mark.parametrize("dc_type", TYPES)
def test_every_broken_wire_that_the_type_can_show_is_found(dc_type):
    for broken in TYPES[dc_type]:
        parts = {pair: ohm for pair, ohm in TYPES[dc_type].items() if pair != broken}
        assert summary(parts, dc_type)["summary"]["meets"] is False, broken


@pytest.mark.parametrize("short", [("C", "S"), ("A", "B"), ("C", "B")])
@pytest.mark.parametrize("ohm", [0.1, 40.0, 5_000.0, 300_000.0])
def test_every_short_and_leak_in_a_1_1_is_found(short, ohm):
    assert summary({**ONE_TO_ONE, short: ohm}, "current_1_1")["summary"]["meets"] is False


def test_an_open_winding_beside_another_way_does_not_show_and_is_said_not_to():
    """One of the four wires of a two-line 4:1 is gone: the other way round still conducts."""
    whole = {**AUTO, ("A", "B"): COPPER_OHM}
    broken = {pair: ohm for pair, ohm in whole.items() if pair != ("A", "B")}
    found = summary(broken, "all_joined")
    assert found["summary"]["meets"] is True and not found["summary"]["shows_broken_wire"]
    assert "dc_open_hidden" in {flag["code"] for flag in found["flags"]}


def test_a_bleeder_and_an_arrester_change_what_reads_open():
    with_bleeder = {**ONE_TO_ONE, ("A", "B"): 100e3}
    assert summary(with_bleeder, "current_1_1")["summary"]["meets"] is False
    assert summary(with_bleeder, "current_1_1", options=("bleeder",))["summary"]["meets"] is True
    shorted = {**ONE_TO_ONE, ("A", "B"): 30.0}
    assert summary(shorted, "current_1_1", options=("bleeder",))["summary"]["meets"] is False
    told = summary(shorted, "current_1_1", options=("arrester",))
    assert told["summary"]["meets"] is True and "dc_arrester" in {flag["code"] for flag in told["flags"]}
    assert {row["holds"] for row in told["summary"]["readings"]} == {True, None}


def test_nothing_is_settled_by_half_of_the_readings_but_a_fault_is_a_fault():
    half = summary(ONE_TO_ONE, "current_1_1", pairs=[("C", "A")])
    assert half["summary"]["meets"] is None
    (flag,) = [flag for flag in half["flags"] if flag["code"] == "dc_incomplete"]
    assert "S to B" in flag["message"] and "C to S" in flag["message"]
    broken = {("S", "B"): COPPER_OHM}
    assert summary(broken, "current_1_1", pairs=[("C", "A")])["summary"]["meets"] is False


def test_without_a_type_nothing_is_judged():
    found = summary(ONE_TO_ONE, None, insulation_mohm=200.0, insulation_wet_mohm=3.0)
    assert found["summary"]["meets"] is None
    assert {row["expected"] for row in found["summary"]["readings"]} == {None}
    assert (found["summary"]["insulation_mohm"], found["summary"]["insulation_wet_mohm"]) == (200.0, 3.0)
    assert {flag["code"] for flag in found["flags"]} == {"dc_type_unknown"}


@pytest.mark.parametrize(("ohm", "expected"), [(1.0, True), (1.01, False), (None, False)])
def test_joined_is_at_most_1_ohm(ohm, expected):
    assert dc.holds(ohm, "joined") is expected


@pytest.mark.parametrize(("ohm", "expected"), [(1e6, True), (0.99e6, False), (None, True)])
def test_open_is_at_least_1_megohm(ohm, expected):
    assert dc.holds(ohm, "open") is expected


@pytest.mark.parametrize(
    ("items", "code"),
    [
        ([], "dc.empty"),
        ([{"from": "C", "to": "A"}], "dc.shape"),
        (["C A 1"], "dc.shape"),
        ([{"from": "C", "to": "X", "ohm": 1}], "dc.terminal"),
        ([{"from": "C", "to": "C", "ohm": 1}], "dc.terminal"),
        ([{"from": "C", "to": "A", "ohm": -1}], "dc.value"),
        ([{"from": "C", "to": "A", "ohm": "1"}], "dc.value"),
        ([{"from": "C", "to": "A", "ohm": True}], "dc.value"),
        ([{"from": "C", "to": "A", "ohm": float("nan")}], "dc.value"),
        ([{"from": "C", "to": "A", "ohm": 1e300}], "dc.value"),
        ([{"from": "C", "to": "A", "ohm": 1}, {"from": "a", "to": "c", "ohm": 2}], "dc.duplicate"),
        ([{"from": "C", "to": "A", "ohm": 1}] * 25, "dc.too_many"),
    ],
)
def test_readings_that_say_nothing_certain_are_refused(items, code):
    with pytest.raises(BenchnightError) as caught:
        dc.parse_dc_readings(items)
    assert caught.value.code == code


def test_a_test_without_readings_is_refused():
    with pytest.raises(BenchnightError) as caught:
        analyse(Request("dc"))
    assert caught.value.code == "dc.empty"
