"""Tests of a session wait while its check standard is out of control; nothing is flagged in their results."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, CheckHold, Device, Result, Test
from measurements.models import check_standards as models
from measurements.selectors.check_standards import waiting
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.upkeep import upkeep_facts
from measurements.services.check_standards import check_standards, holds
from measurements.services.releases import design_decisions
from measurements.services.tests import tests
from tests import check_benches, club, factories

pytestmark = pytest.mark.usefixtures("reference_data")
DAY = date(2026, 11, 2)


@pytest.fixture
def bench():
    """An operator with an established check standard, and a guest's device on a new night."""

    class Scene:
        by = club.operator()
        device, standard = check_benches.mark(by)
        earlier = check_benches.establish(by, device)
        night = check_benches.open_night(by, DAY)
        guest = club.guest(by, night)
        other = club.guests_device(by, night, guest, tag="G-7")

        def test(self):
            return club.record(self.by, self.other, self.night, calibrated="true").key

        def votes(self):
            return set(design_decisions.query_voting_results().values_list("test__key", flat=True))

    return Scene()


def open_holds():
    return CheckHold.objects.filter(ended_at=None)


def test_in_control_nothing_waits_and_the_standard_itself_is_no_evidence(bench):
    key = bench.test()
    own = check_benches.sweep(bench.by, bench.device, bench.night).key
    assert not open_holds() and bench.votes() == {key}
    assert tests_selectors.get_test(bench.by, key).evidence == "counts"
    shown = tests_selectors.get_test(bench.by, own)
    assert shown.is_check_standard and shown.evidence == "left_out" and shown.waiting == ()
    check_standards.end_check_standard(by=bench.by, standard=bench.standard)
    assert own in bench.votes() and not Device.objects.get(key=bench.device).is_check_standard


def test_out_of_control_the_tests_of_the_night_wait_with_a_sentence(bench):
    before = bench.test()
    figures = Result.objects.get(test__key=before).figures
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=-3.0)
    after = club.record(
        bench.by, bench.other, bench.night, factories.choke_s2p(seed=44), calibrated="true"
    ).key
    assert bench.votes() == set()
    for key in (before, after):
        shown = tests_selectors.get_test(bench.by, key)
        assert shown.evidence == "left_out" and len(shown.waiting) == 1
        assert "out of control" in shown.waiting[0] and "Every band moved" in shown.waiting[0]
        assert {row.key: row.waiting for row in tests_selectors.list_tests(bench.by).results}[
            key
        ] == shown.waiting
    # no verdict is taken away: the result is what it was
    assert Result.objects.get(test__key=before).figures == figures


def test_a_test_that_waits_makes_no_device_serviceable(bench):
    key = bench.test()

    def facts():
        device = Device.objects.select_related("design", "baseline").get(key=bench.other)
        return upkeep_facts.get_device_facts(bench.by, [device])[device.pk].tests

    assert [each.why_not for each in facts() if each.key == key] == [""]
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=-3.0)
    assert [each.why_not for each in facts() if each.key == key] == [upkeep_facts.OUT_OF_CONTROL]


def test_tests_of_other_nights_and_other_days_do_not_wait(bench):
    other_night = check_benches.open_night(bench.by, DAY)
    there = club.guests_device(bench.by, other_night, club.guest(bench.by, other_night, "Ysolde"), tag="Y-1")
    free = club.record(bench.by, there, other_night, factories.choke_s2p(seed=9), calibrated="true").key
    home = factories.record(bench.by, factories.device(bench.by, tag="home"), measured_on=DAY)
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    assert open_holds().count() == 1 and bench.votes() == {free, home}


def test_a_later_sweep_in_control_lets_them_go(bench):
    key = bench.test()
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    good = check_benches.sweep(bench.by, bench.device, bench.night).key
    assert not open_holds() and bench.votes() == {key}
    assert CheckHold.objects.get().ended_how == "in_control"
    # withdrawn again, the earlier sweep is the last word once more
    tests.withdraw_test(by=bench.by, test=good)
    assert open_holds().count() == 1 and bench.votes() == set()


def test_withdrawing_the_sweep_lets_nothing_go(bench):
    bench.test()
    bad = check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0).key
    tests.withdraw_test(by=bench.by, test=bad)
    assert open_holds().count() == 1 and bench.votes() == set()
    check_benches.sweep(bench.by, bench.device, bench.night)
    assert not open_holds() and len(bench.votes()) == 1


def test_a_second_sweep_out_of_control_is_the_one_that_holds(bench):
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    again = check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0).key
    assert open_holds().get().test_key == again
    assert CheckHold.objects.get(ended_how="swept_again").test_key != again


def test_an_operator_decides_with_a_reason_that_is_kept_and_audited(bench):
    key = bench.test()
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    hold = open_holds().get().key
    with pytest.raises(BenchnightError) as error:
        holds.release_tests(by=bench.by, hold=hold, reason=" ")
    assert error.value.errors[0].field == "reason"
    for stranger in (factories.member("Rowan"), club.operator("Edda")):
        with pytest.raises(BenchnightError):
            holds.release_tests(by=stranger, hold=hold, reason="I say so")
    holds.release_tests(by=bench.by, hold=hold, reason="The plug had come off the standard")
    assert bench.votes() == {key}
    row = waiting.list_holds_of_night(Test.objects.get(key=key).night_id)[0]
    assert (row.ended_how, row.ended_by, row.tests) == ("decision", "Osric", 1) and "plug" in row.reason
    entry = AuditEntry.objects.filter(action="check.release", subject=hold).get()
    assert entry.actor == "Osric" and "plug" not in str(entry.detail)
    with pytest.raises(BenchnightError) as error:
        holds.release_tests(by=bench.by, hold=hold, reason="Once more")
    assert error.value.code == "check.hold_ended"


def test_after_a_decision_a_new_sweep_out_of_control_holds_anew(bench):
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    holds.release_tests(by=bench.by, hold=open_holds().get().key, reason="Loose plug")
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.2)
    assert open_holds().count() == 1


def test_outside_nights_what_one_account_measured_that_day_waits(bench):
    by, own = bench.by, factories.device(bench.by, tag="own")
    for day in range(1, 6):
        check_benches.sweep(by, bench.device, None, on=date(2026, 9, day))
    first = factories.record(by, own, measured_on=date(2026, 9, 6))
    other = factories.record(by, own, factories.choke_s2p(seed=5), measured_on=date(2026, 9, 7))
    factories.record(
        factories.member("Rowan"), factories.device(factories.member("Rowan")), factories.choke_s2p(seed=8)
    )
    check_benches.sweep(by, bench.device, None, 2.5, on=date(2026, 9, 6))
    assert first not in bench.votes() and other in bench.votes()
    holds.release_tests(by=by, hold=open_holds().get().key, reason="Wrong device swept")
    assert first in bench.votes()


def test_another_jig_has_its_own_chart_and_needs_its_own_sessions(bench):
    night = check_benches.open_night(bench.by, DAY, jig="long leads")
    check_benches.sweep(bench.by, bench.device, night, shift_db=3.0)
    assert not CheckHold.objects.exists()


def test_the_names_of_a_bench_match_whatever_their_case(bench):
    night = check_benches.open_night(bench.by, DAY, jig="  CLIPS ", analyser="The  blue one")
    check_benches.sweep(bench.by, bench.device, night, shift_db=3.0)
    assert open_holds().count() == 1


def test_a_sweep_that_cannot_be_believed_judges_nothing(bench):
    night = check_benches.open_night(bench.by, DAY)
    club.record(bench.by, bench.device, night, check_benches.standard_s2p(5.0, 77), calibrated="false")
    assert not CheckHold.objects.exists()


def test_dc_readings_wait_for_no_analyser(bench):
    design = factories.device(bench.by, tag="D-1")
    key = Test.objects.get(key=factories.record(bench.by, design, measured_on=DAY)).pk
    Test.objects.filter(pk=key).update(kind="dc", night=Test.objects.get(key=bench.test()).night)
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    waits = Test.objects.filter(models.build_waiting_condition())
    assert waits.filter(kind="common_mode").exists() and not waits.filter(kind="dc").exists()


def test_the_tests_wait_even_when_the_standard_is_gone(bench):
    bench.test()
    check_benches.sweep(bench.by, bench.device, bench.night, shift_db=3.0)
    Device.objects.get(key=bench.device).delete()
    assert open_holds().get().standard is None and bench.votes() == set()


def test_who_may_mark_and_end(bench):
    member = factories.member("Rowan")
    device = factories.device(member, tag="R-1")
    for nobody in (member, club.operator("Edda")):
        with pytest.raises(BenchnightError):
            check_standards.mark_check_standard(by=nobody, device=device)
    steward = factories.member("Sunniva", "steward")
    first = check_standards.mark_check_standard(by=steward, device=device)
    again = check_standards.mark_check_standard(by=steward, device=device)
    assert (first.key, first.created, again.created) == (again.key, True, False)
    for nobody in (member, club.operator("Edda")):
        with pytest.raises(BenchnightError):
            check_standards.end_check_standard(by=nobody, standard=first.key)
    check_standards.end_check_standard(by=steward, standard=first.key)
    with pytest.raises(BenchnightError) as error:
        check_standards.end_check_standard(by=steward, standard=first.key)
    assert error.value.code == "check.ended"


def test_marking_looks_back_but_holds_nothing_back(bench):
    check_standards.end_check_standard(by=bench.by, standard=bench.standard)
    night = check_benches.open_night(bench.by, DAY)
    check_benches.sweep(bench.by, bench.device, night, shift_db=5.0)
    check_standards.mark_check_standard(by=bench.by, device=bench.device)
    assert not CheckHold.objects.exists()
    with pytest.raises(BenchnightError) as error:
        check_standards.mark_check_standard(by=bench.by, device=bench.other, counts_from=date(2099, 1, 1))
    assert error.value.code in ("check.counts_from", "device.not_found")


def test_counts_from_begins_a_new_chart(bench):
    check_standards.end_check_standard(by=bench.by, standard=bench.standard)
    check_standards.mark_check_standard(by=bench.by, device=bench.device, counts_from=DAY)
    night = check_benches.open_night(bench.by, DAY)
    check_benches.sweep(bench.by, bench.device, night, shift_db=5.0, on=DAY)
    assert not CheckHold.objects.exists()


def test_a_group_keeps_so_many_at_a_time(bench, monkeypatch):
    monkeypatch.setattr(check_standards, "MOST_STANDARDS", 1)
    other = factories.device(bench.by, tag="second")
    with pytest.raises(BenchnightError) as error:
        check_standards.mark_check_standard(by=bench.by, device=other)
    assert error.value.code == "check.too_many"
    check_standards.end_check_standard(by=bench.by, standard=bench.standard)
    assert check_standards.mark_check_standard(by=bench.by, device=other).created
