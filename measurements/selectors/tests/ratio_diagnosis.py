"""Why does a voltage balun or unun lose or mismatch? Its own match test, with its own loss test where it
has one.

Runs only where a band of the test falls short or is too close to call: a device as it should be needs no
diagnosis.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from measurements.disclosure.viewers import Viewer
from measurements.rf.diagnosis import ratio_causes
from measurements.rf.diagnosis.ratio_model import RatioSweep
from measurements.rf.ferrites import ratio_windings
from measurements.rf.networks import two_port
from measurements.rf.sweeps.sweep import Complexes, Floats
from measurements.selectors.predictions import prediction_basis
from measurements.selectors.tests import tests
from measurements.selectors.tests.tests import TestRow

OWN_LOSS_METHODS = ("one_port", "renormalised", "series_resistor", "known_partner")
MOST_TESTS = 50  # of the device, the newest, among which the other test is looked for


def diagnose_ratio_test(viewer: Viewer, test: TestRow, recipe: Mapping[str, Any]) -> dict[str, Any] | None:
    """Diagnose the device of a match or loss test; None where all bands hold or the model does not reach.

    It rests on the recipe, the makers' tables and stated spreads, for an analyser with reflection errors
    of 0.01.
    """
    if not _is_asked(test):
        return None
    wound = ratio_windings.build_recipe_device(
        recipe, prediction_basis.get_core_sizes_mm(), prediction_basis.get_wire_diameters_mm()
    )
    if wound is None:
        return None
    match, loss = _find_tests(viewer, test)
    sweep = None if match is None else _build_sweep(viewer, match, loss)
    if match is None or sweep is None:
        return None
    found = ratio_causes.diagnose_ratio_device(
        wound, sweep, prediction_basis.get_prediction_basis(viewer).tables
    )
    if found is None:
        return None
    return {
        "where": found.where,
        "from_hz": found.from_hz,
        "to_hz": found.to_hz,
        "match_test": match.key,
        "loss_test": None if loss is None else loss.key,
        "causes": [_round(asdict(cause)) for cause in found.causes],
        "likelihoods": [{**asdict(each), "share": round(each.share, 2)} for each in found.likelihoods],
    }


def _is_asked(test: TestRow) -> bool:
    """Say whether a judged band of a match or loss test is not met."""
    if test.kind not in ("load_match", "insertion_loss"):
        return False
    decisions = {band.get("decision") for band in test.result["bands"]}
    return bool(decisions & {"falls_short", "too_close"})


def _find_tests(viewer: Viewer, test: TestRow) -> tuple[TestRow | None, TestRow | None]:
    """Find the match test and the loss test: this one, and the device's newest of the other kind."""
    others = [
        row
        for row in tests.list_tests(viewer, device=test.device, limit=MOST_TESTS).results
        if _is_sound(row)
    ]
    found: dict[str, TestRow | None] = {}
    for kind in ("load_match", "insertion_loss"):
        same = [test] if test.kind == kind and _is_sound(test) else []
        found[kind] = next((row for row in (*same, *others) if row.kind == kind), None)
    return found["load_match"], found["insertion_loss"]


def _is_sound(row: TestRow) -> bool:
    """Say whether a test measures the device's own match or loss and no flag speaks against it."""
    if any(flag["severity"] in ("refuse", "exclude") and not flag["band"] for flag in row.result["flags"]):
        return False
    return row.kind == "load_match" or (row.kind == "insertion_loss" and row.method in OWN_LOSS_METHODS)


def _build_sweep(viewer: Viewer, match: TestRow, loss: TestRow | None) -> RatioSweep | None:
    """Build S11 from R and X; the loss is interpolated onto the same frequencies, and left out where it
    ends.
    """
    traces = tests.get_traces(viewer, match.key)
    if not traces.get("resistance_ohm") or not match.result["summary"].get("load_ohm"):
        return None
    freq_hz = _array(traces["freq_hz"])
    z_ohm: Complexes = _array(traces["resistance_ohm"]) + 1j * _array(traces["reactance_ohm"])
    s11 = two_port.reflection_coefficient(z_ohm, float(match.result["reference_ohm"]))
    loss_db = None
    if loss is not None:
        of_loss = tests.get_traces(viewer, loss.key)
        seen_hz, seen_db = _array(of_loss["freq_hz"]), _array(of_loss["loss_db"])
        loss_db = np.interp(freq_hz, seen_hz, seen_db, left=np.nan, right=np.nan)
    return RatioSweep(freq_hz, s11, float(match.result["summary"]["load_ohm"]), loss_db)


def _array(values: list[float | None]) -> Floats:
    return np.array(values, dtype=np.float64)


def _round(cause: dict[str, Any]) -> dict[str, Any]:
    return {
        name: float(f"{value:.4g}") if isinstance(value, float) else value for name, value in cause.items()
    }
