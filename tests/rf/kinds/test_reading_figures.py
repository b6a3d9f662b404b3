"""Readings typed in by hand: figures where they fall, and nothing else."""

from __future__ import annotations

import json

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.analysis import Request, analyse
from measurements.rf.sweeps.typed_readings import parse_readings
from tests.rf import benches
from tests.rf.benches import band


def result_of(kind, rows, **changes):
    readings = parse_readings([{"frequency_hz": hz, "value": value} for hz, value in rows])
    analysis = analyse(Request(kind, readings=readings, bands=benches.BANDS, calibrated=True, **changes))
    json.dumps(analysis.result, allow_nan=False)
    return analysis


def test_rejection_only_where_a_reading_falls():
    analysis = result_of("common_mode", [(7.1e6, 31.5), (7.2e6, 29.0), (14.1e6, 25.0), (7.15e6, 30.0)])
    got = band(analysis.result, "40m")
    assert got["rejection_db"] == {"worst": 29.0, "worst_hz": 7.2e6, "centre": 30.0, "best": 31.5}
    assert got["points_in_band"] == 3 and got["coverage"] == "partial" and got["meets"] is None
    assert band(analysis.result, "20m")["rejection_db"]["centre"] is None
    assert band(analysis.result, "80m")["coverage"] == "none"
    assert band(analysis.result, "80m")["rejection_db"]["worst"] is None
    assert analysis.result["method"] == "readings" and not any(analysis.result["measured"].values())
    assert analysis.result["span"] == {"start_hz": 7.1e6, "stop_hz": 14.1e6, "points": 4}


@pytest.mark.parametrize(
    ("kind", "metric", "worst"), [("load_match", "swr", 1.6), ("insertion_loss", "loss_db", 1.6)]
)
def test_swr_and_loss(kind, metric, worst):
    analysis = result_of(kind, [(7.1e6, 1.2), (7.2e6, 1.6)])
    assert band(analysis.result, "40m")[metric]["worst"] == worst


def test_never_a_curve_nor_evidence():
    analysis = result_of("common_mode", [(7.1e6, 31.5)])
    assert analysis.traces == {} and analysis.evidence is None
    flagged = next(one for one in analysis.result["flags"] if one["code"] == "readings")
    assert flagged["severity"] == "exclude" and "by hand, 1 in all" in flagged["message"]
    assert analysis.result["summary"]["peak_impedance_ohm"] is None


@pytest.mark.parametrize(("kind", "code"), [("load_match", "readings.swr")])
def test_an_swr_below_one_is_refused(kind, code):
    with pytest.raises(BenchnightError) as caught:
        result_of(kind, [(7.1e6, 0.9)])
    assert caught.value.code == code


def test_readings_beside_a_sweep_are_refused():
    sweep = benches.one_port([1e6, 2e6], np.zeros(2))
    readings = parse_readings([{"frequency_hz": 7e6, "value": 1.2}])
    with pytest.raises(BenchnightError) as caught:
        analyse(Request("load_match", sweeps={"sweep": sweep}, readings=readings))
    assert caught.value.code == "readings.beside_sweep"
