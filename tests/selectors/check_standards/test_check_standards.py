"""Charts of a check standard as operators read them, and what benches read apart from each other."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from measurements.charts import check_chart
from measurements.errors import BenchnightError
from measurements.selectors.check_standards import check_standards
from tests import check_benches, club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def standard():
    by = club.operator()
    device, key = check_benches.mark(by)
    return by, device, key


def test_before_five_sessions_a_chart_says_so(standard):
    by, device, key = standard
    assert check_standards.get_check_standard(by, key).charts == ()
    check_benches.establish(by, device, 4)
    row = check_standards.get_check_standard(by, key)
    assert row.state == "not_enough" and row.charts[0].sessions == 4 and row.charts[0].least_sessions == 5
    assert all(band.mean is None and band.sessions == 4 for band in row.charts[0].bands)
    assert check_chart.build_check_chart(row.charts[0], "40m") is not None
    assert check_chart.build_check_chart(row.charts[0], "23cm") is None


def test_a_chart_has_every_sweep_in_order_with_the_limits_that_it_was_held_against(standard):
    by, device, key = standard
    nights = check_benches.establish(by, device, 6)
    last = check_benches.open_night(by, check_benches.FIRST + timedelta(days=60))
    bad = check_benches.sweep(by, device, last, shift_db=3.0).key
    row = check_standards.get_check_standard(by, key)
    (chart,) = row.charts
    assert (chart.state, chart.sweeps, chart.sessions) == ("out_of_control", 7, 6)
    band = next(each for each in chart.bands if each.band == "40m")
    assert [point.low is None for point in band.points] == [True] * 5 + [False] * 2
    assert [point.outside for point in band.points] == [False] * 6 + [True]
    assert band.points[-1].test == bad and band.points[-1].value > band.high > band.mean > band.low
    assert 0 < band.three_s < band.high - band.mean  # few sessions: wider than three s
    drawn = check_chart.build_check_chart(chart, "40m")
    assert "1 outside the limits" in drawn["description"]
    assert [hold.test for hold in row.holds] == [bad] and row.holds[0].open

    checks, holds = check_standards.list_night_checks(by, last)
    assert checks[0].swept and checks[0].charts == (chart,) and holds == row.holds
    elsewhere = check_benches.open_night(by, date(2026, 10, 1), jig="long leads")
    checks, holds = check_standards.list_night_checks(by, elsewhere)
    assert (checks[0].charts, checks[0].swept, holds) == ((), False, ())
    assert check_standards.list_night_checks(by, nights[0])[1] == ()


def test_a_bench_that_was_visited_once_has_an_offset_with_its_uncertainty(standard):
    by, device, key = standard
    check_benches.establish(by, device, 6)
    far = check_benches.open_night(by, date(2026, 10, 1), jig="long leads", analyser="the old one")
    check_benches.sweep(by, device, far, shift_db=-1.5)
    row = check_standards.get_check_standard(by, key)
    assert len(row.charts) == 2 and row.charts[1].state == "not_enough"
    (offset,) = row.offsets
    assert (offset.bench, offset.reference) == ("the old one, long leads", "the blue one, clips")
    assert (offset.sessions, offset.reference_sessions) == (1, 6)
    for _, difference, u in offset.bands:
        assert difference == pytest.approx(-1.5, abs=0.4) and 0.3 < u < 1.0


def test_operators_of_other_nights_read_the_chart_and_members_do_not(standard):
    by, device, key = standard
    check_benches.establish(by, device, 1)
    edda = club.operator("Edda")
    assert check_standards.get_check_standard(edda, key).charts[0].sweeps == 1
    assert not check_standards.get_check_standard(edda, key).may_end
    assert check_standards.get_check_standard(by, key).may_end
    with pytest.raises(BenchnightError):
        check_standards.list_check_standards(factories.member("Rowan"))
    with pytest.raises(BenchnightError) as error:
        check_standards.get_check_standard(edda, "nosuchkey123")
    assert error.value.code == "check.not_found"
    assert check_standards.get_standard_of_device(by, device) == key
