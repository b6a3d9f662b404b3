"""What a jig is good for, from its own sweeps: closed forms, and jigs built as circuits."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from measurements.errors import BenchnightError
from measurements.rf.analysis import Request, analyse
from measurements.rf.instruments import jig_check
from measurements.rf.networks import series_through
from tests.rf import benches

FREQ = benches.linear_hz(117, 1e6, 30e6)
OMEGA = 2 * np.pi * FREQ


def series(z_ohm, freq=FREQ):
    """A sweep of one impedance in series."""
    return benches.two_port(freq, series_through.build_series_s(np.broadcast_to(z_ohm, np.shape(freq)) + 0j))


def open_with(capacitance_f: float):
    return series(1 / (1j * OMEGA * capacitance_f))


def figures(benchmark_db=20.0, **sweeps):
    return jig_check.assess_jig(sweeps, benches.BANDS, benchmark_db)


def test_sixty_decibels_of_isolation_read_as_a_false_hundred_kilohm():
    # 20 log10|1 + Z/100 ohm| = 60 dB: Z = 99.9 kohm (series-through formula, see checks of `series_through`)
    found = figures(jig_open=series(99_900.0))
    assert found["floor_db"] == pytest.approx(60.0, abs=1e-9)
    assert found["open_impedance_ohm"] == pytest.approx(99_900, rel=1e-9)
    assert found["good_up_to_db"] == pytest.approx(50.0, abs=1e-9)
    assert found["good_enough"] is True and found["advice"][0].startswith("With a sweep of the jig linked")
    assert "Good for readings up to 50.0 dB" in found["sentence"]


def test_one_picofarad_across_the_clips_is_16_kilohm_at_10_megahertz():
    # |1/(2 pi 10 MHz 1 pF)| = 15.9 kohm; at 29.7 MHz, the worst band edge, 5.36 kohm: 34.6 dB
    found = figures(jig_open=open_with(1e-12))
    assert found["open_capacitance_f"] == pytest.approx(1e-12, rel=1e-6)
    assert found["open_impedance_ohm"] == pytest.approx(1 / (2 * np.pi * 29.7e6 * 1e-12), rel=1e-3)
    assert found["floor_hz"] == 29.7e6
    assert found["floor_db"] == pytest.approx(20 * np.log10(abs(1 - 53.587j)), abs=0.02)
    rows = {row["band"]: row for row in found["bands"]}
    assert list(rows) == ["160m", "80m", "40m", "20m", "10m"]
    assert rows["160m"]["floor_db"] > rows["40m"]["floor_db"] > rows["10m"]["floor_db"]


def test_a_jig_that_cannot_show_the_benchmark_is_not_good_enough_and_says_where():
    found = figures(jig_open=open_with(5e-12))  # 10m: 1.07 kohm, 20.6 dB; good up to 10.6 dB
    rows = {row["band"]: row["good_enough"] for row in found["bands"]}
    assert rows == {"160m": True, "80m": True, "40m": True, "20m": False, "10m": False}
    assert found["good_enough"] is False
    assert "20 dB on 20m, 10m" in found["advice"][0]
    assert figures(10.0, jig_open=open_with(5e-12))["good_enough"] is True


def test_a_reading_beyond_what_the_jig_is_good_for_is_marked_jig_limited():
    opened = open_with(1e-12)
    good = {row["band"]: row["good_up_to_db"] for row in figures(jig_open=opened)["bands"]}
    for extra_db, limited in ((-3.0, False), (3.0, True)):
        z_ohm = 100 * (10 ** ((good["40m"] + extra_db) / 20) - 1)
        sweeps = {"sweep": series(z_ohm), "jig_open": opened}
        result = analyse(Request("common_mode", sweeps=sweeps, bands=benches.BANDS, calibrated=True)).result
        band = next(row for row in result["bands"] if row["band"] == "40m")
        assert band["jig_limited"] is limited


def test_the_floor_is_that_after_dividing_by_the_through():
    # an attenuator of 6 dB in the path hides 6 dB of the floor, which dividing by the through gives back
    opened = open_with(1e-12)
    factor = 10 ** (-6 / 20)
    weak = benches.two_port(FREQ, opened.s * [[1, factor], [factor, 1]])
    through = benches.two_port(FREQ, np.broadcast_to([[0, factor], [factor, 0]], (FREQ.size, 2, 2)))
    found = figures(jig_open=weak, jig_through=through)
    assert found["floor_db"] == pytest.approx(figures(jig_open=opened)["floor_db"], abs=1e-9)
    assert found["through_loss_db"] == pytest.approx(6.0, abs=1e-9)
    assert "loses up to 6.0 dB" in found["advice"][-1]


def test_leads_of_a_linked_jig_against_a_circuit_of_scikit_rf():
    medium = benches.medium(FREQ)
    leads = medium.inductor(40e-9) ** medium.resistor(0.5)
    shorted = benches.two_port(FREQ, leads.s)
    found = figures(jig_short=shorted, jig_open=open_with(0.2e-12))
    at = 29.7e6
    assert found["short_impedance_ohm"] == pytest.approx(abs(0.5 + 2j * np.pi * at * 40e-9), rel=1e-3)
    assert isinstance(leads, skrf.Network)


def test_without_an_open_sweep_nobody_knows():
    found = figures(jig_through=series(0.0))
    assert (found["good_enough"], found["good_up_to_db"], found["floor_db"]) == (None, None, None)
    assert "unknown" in found["sentence"] and "jig_open" in found["advice"][0]


def test_an_open_jig_that_lets_nothing_through_limits_nothing():
    silent = benches.two_port(FREQ, np.tile(np.eye(2, dtype=complex), (FREQ.size, 1, 1)))
    found = figures(jig_open=silent)
    assert (found["good_enough"], found["floor_db"]) == (True, None)
    assert "limits no reading" in found["sentence"]


@pytest.mark.parametrize(
    ("role", "sweep"),
    [("jig_open", series(1.0)), ("jig_through", open_with(0.2e-12)), ("jig_short", open_with(0.2e-12))],
)
def test_open_and_closed_mixed_up_are_refused(role, sweep):
    with pytest.raises(BenchnightError) as caught:
        figures(**{role: sweep})
    assert (caught.value.code, caught.value.errors[0].field) == ("jig.mixed_up", role)


def test_a_sweep_that_reaches_no_band_is_judged_as_a_whole():
    freq = benches.linear_hz(21, 5e6, 6e6)
    found = figures(jig_open=series(99_900.0, freq))
    assert (found["bands"], found["good_enough"]) == ([], True)
    assert found["floor_db"] == pytest.approx(60.0)


def test_a_jig_swept_on_other_frequencies_and_spans_than_its_through():
    narrow = benches.linear_hz(40, 3e6, 28e6)
    found = figures(jig_open=open_with(1e-12), jig_through=series(0.0, narrow))
    # beyond the through nothing is known of the floor: 160m and 10m are left out
    assert [row["band"] for row in found["bands"]] == ["80m", "40m", "20m"]
    assert found["floor_hz"] == pytest.approx(14.35e6)
