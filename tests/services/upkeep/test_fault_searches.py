"""A fault search on stored tests and answers: its way to what it concludes, and what that rests on."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Device, FaultSearch, FaultStep, Night, NightDevice
from measurements.selectors.upkeep import fault_searches as fault_searches_selectors
from measurements.services.tests import tests
from measurements.services.upkeep import fault_searches as fault_searches_services
from measurements.services.upkeep import inspections
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

DAY = date(2026, 5, 2)


def s1p(z_ohm: complex) -> Upload:
    """S11 of one impedance from 1 to 30 MHz: (Z - 50)/(Z + 50)."""
    gamma = (z_ohm - 50) / (z_ohm + 50)
    rows = [f"{freq:.1f} {gamma.real:.8f} {gamma.imag:.8f}" for freq in np.linspace(1e6, 30e6, 51)]
    return Upload("x.s1p", ("\n".join(["# Hz S RI R 50", *rows]) + "\n").encode())


def record(by, device, kind, **uploads):
    asked = {"antenna_bands": "40m"} if kind == "in_situ" else {}
    settings = parse_settings({"kind": kind, "calibrated": "true", **asked})
    return tests.record_test(by=by, device=device, uploads=uploads, settings=settings, measured_on=DAY).key


@pytest.fixture
def device(member):
    return factories.device(member)


@pytest.fixture
def search(member, device):
    return fault_searches_services.begin_fault_search(
        by=member, device=device, symptom="high_swr", band="40m"
    ).key


def pass_over(by, search, *steps):
    for step in steps:
        fault_searches_services.skip_step(by=by, search=search, step=step)


NOISE = ("ground_look", "line_parts", "inspection", "dc")
OUTSIDE = ("ground_look", "shack_sweep", "line", "line_parts", "inspection")


def test_from_a_high_swr_to_a_fault_that_was_seen(member, device, search):
    for step, choice in (("ground_look", "good"), ("shack_sweep", "changed"), ("line", "good")):
        fault_searches_services.answer_with_choice(by=member, search=search, step=step, choice=choice)
    row = fault_searches_selectors.get_fault_search(member, search)
    assert (row.next_step, row.finding) == ("inspection", "")  # a good line needs no look at its parts
    look = inspections.record_inspection(
        by=member, device=device, inspected_on=DAY, findings={"winding": {"state": "fault", "note": ""}}
    ).key
    fault_searches_services.answer_with_inspection(
        by=member, search=search, step="inspection", inspection=look
    )
    row = fault_searches_selectors.get_fault_search(member, search)
    assert (row.finding, row.next_step) == ("seen_fault", "") and row.ended_at is not None
    assert [(each.code, each.premises) for each in row.conclusions] == [
        ("seen_fault", (("inspection", "fault"),)),
        ("changed_at_shack", (("shack_sweep", "changed"),)),
    ]
    assert row.missing == ("line_parts", "bypass", "dc", "load_test", "common_mode")
    assert AuditEntry.objects.filter(action="fault.answer", subject=search).count() == 4


def test_a_bypass_test_that_is_worse_goes_on_to_the_bench(member, device, search):
    pass_over(member, search, *OUTSIDE)
    bypass = record(member, device, "in_situ", sweep=s1p(2000), sweep_bypassed=s1p(52))
    fault_searches_services.answer_with_test(by=member, search=search, step="bypass", test=bypass)
    assert fault_searches_selectors.get_fault_search(member, search).next_step == "dc"
    pass_over(member, search, "dc")
    load = record(member, device, "load_match", sweep=s1p(140))
    fault_searches_services.answer_with_test(by=member, search=search, step="load_test", test=load)
    row = fault_searches_selectors.get_fault_search(member, search)
    assert {each.code for each in row.conclusions} == {"transforms_wrong", "worse_in_place"}
    assert list(FaultStep.objects.values_list("step", "test__key")) == [
        ("bypass", bypass),
        ("load_test", load),
    ]


def test_an_antenna_that_is_the_same_without_the_device_convicts_nobody(member, device, search):
    pass_over(member, search, *OUTSIDE)
    bypass = record(member, device, "in_situ", sweep=s1p(150), sweep_bypassed=s1p(160))
    fault_searches_services.answer_with_test(by=member, search=search, step="bypass", test=bypass)
    row = fault_searches_selectors.get_fault_search(member, search)
    assert row.finding == "device_changes_nothing" and "line" in row.missing


def test_a_voltage_balun_is_told_to_add_a_choke(member):
    device = factories.device(
        member, factories.design(member, purpose="balun", principle="voltage"), tag="V-1"
    )
    search = fault_searches_services.begin_fault_search(by=member, device=device, symptom="noise").key
    row = fault_searches_selectors.get_fault_search(member, search)
    assert "common_mode" not in row.path
    pass_over(member, search, *row.path)
    row = fault_searches_selectors.get_fault_search(member, search)
    assert row.finding == "does_not_choke"


def test_a_choice_that_is_none_is_refused(member, search):
    for step, choice in (("ground_look", "smoke"), ("bypass", "good")):
        with pytest.raises(BenchnightError) as caught:
            fault_searches_services.answer_with_choice(by=member, search=search, step=step, choice=choice)
        assert caught.value.code == "fault.choice"


def test_only_the_band_of_the_symptom_counts(member, device, search):
    """The sample chokes on 40 m and not on 160 m, and the symptom shows on 40 m."""
    test = factories.record(member, device, factories.choke_s2p(points=101))
    pass_over(member, search, *OUTSIDE, "bypass", "dc", "load_test")
    fault_searches_services.answer_with_test(by=member, search=search, step="common_mode", test=test)
    assert fault_searches_selectors.get_fault_search(member, search).steps[-1].outcome == "good"
    everywhere = fault_searches_services.begin_fault_search(by=member, device=device, symptom="noise").key
    pass_over(member, everywhere, *NOISE)
    fault_searches_services.answer_with_test(by=member, search=everywhere, step="common_mode", test=test)
    assert fault_searches_selectors.get_fault_search(member, everywhere).steps[-1].outcome == "mixed"


def test_a_test_that_does_not_count_says_nothing(member, device, search):
    test = factories.record(member, device, factories.choke_s2p(points=101), calibrated="false")
    noise = fault_searches_services.begin_fault_search(by=member, device=device, symptom="noise").key
    pass_over(member, noise, *NOISE)
    fault_searches_services.answer_with_test(by=member, search=noise, step="common_mode", test=test)
    assert fault_searches_selectors.get_fault_search(member, noise).steps[-1].outcome == "unclear"


def test_going_back_takes_the_answer_and_leaves_the_test(member, device, search):
    pass_over(member, search, *OUTSIDE)
    bypass = record(member, device, "in_situ", sweep=s1p(150), sweep_bypassed=s1p(160))
    fault_searches_services.answer_with_test(by=member, search=search, step="bypass", test=bypass)
    fault_searches_services.undo_last_answer(by=member, search=search)
    row = fault_searches_selectors.get_fault_search(member, search)
    assert (row.next_step, row.finding, row.ended_at) == ("bypass", "", None)
    assert not FaultStep.objects.exists()
    fault_searches_services.answer_with_test(by=member, search=search, step="bypass", test=bypass)
    with pytest.raises(BenchnightError):
        fault_searches_services.undo_last_answer(
            by=member,
            search=fault_searches_services.begin_fault_search(by=member, device=device, symptom="noise").key,
        )


class TestRefusals:
    def refused(self, code, **given):
        with pytest.raises(BenchnightError) as caught:
            fault_searches_services.answer_with_test(**given)
        assert caught.value.code == code

    def test_another_step_than_the_next(self, member, device, search):
        test = factories.record(member, device, factories.choke_s2p(points=101))
        self.refused("fault.other_step", by=member, search=search, step="common_mode", test=test)

    def test_a_test_of_another_kind_or_device(self, member, device, search):
        test = factories.record(member, device, factories.choke_s2p(points=101))
        self.refused("fault.test", by=member, search=search, step="bypass", test=test)
        other = factories.device(member, tag="C-2")
        bypass = record(member, other, "in_situ", sweep=s1p(150), sweep_bypassed=s1p(160))
        self.refused("fault.test", by=member, search=search, step="bypass", test=bypass)
        self.refused("fault.test", by=member, search=search, step="no such step", test=bypass)

    def test_an_answer_to_a_search_that_went_on(self, member, device, search):
        fault_searches_services.skip_step(by=member, search=search, step="ground_look")
        with pytest.raises(BenchnightError) as caught:
            fault_searches_services.skip_step(by=member, search=search, step="ground_look")
        assert caught.value.code == "fault.other_step" and caught.value.kind == "conflict"

    @pytest.mark.parametrize(
        ("given", "field"), [({"symptom": "smoke"}, "symptom"), ({"band": "41m"}, "band")]
    )
    def test_beginning(self, member, device, given, field):
        with pytest.raises(BenchnightError) as caught:
            fault_searches_services.begin_fault_search(
                by=member, device=device, **{"symptom": "high_swr", **given}
            )
        assert caught.value.field == field

    def test_strangers(self, member, device, search):
        other = factories.member("Nils")
        tries = [
            lambda: fault_searches_services.begin_fault_search(by=other, device=device, symptom="noise"),
            lambda: fault_searches_services.skip_step(by=other, search=search, step="bypass"),
            lambda: fault_searches_services.undo_last_answer(by=other, search=search),
            lambda: fault_searches_services.delete_fault_search(by=other, search=search),
            lambda: fault_searches_selectors.get_fault_search(other, search),
            lambda: fault_searches_selectors.list_fault_searches(other, device),
        ]
        for each in tries:
            with pytest.raises(BenchnightError) as caught:
                each()
            assert caught.value.kind == "not_found"


def test_removing(member, device, search):
    assert fault_searches_services.delete_fault_search(by=member, search=search) == device
    assert not FaultSearch.objects.exists()


def test_an_operator_begins_and_answers_no_search_of_a_device_on_the_bench(member, device, search):
    from tests import club

    operator = club.operator()
    night = club.night(operator)
    NightDevice.objects.create(night=Night.objects.get(key=night), device=Device.objects.get(key=device))
    home = factories.record(member, device, factories.choke_s2p(points=101))
    with pytest.raises(BenchnightError) as caught:
        fault_searches_services.begin_fault_search(by=operator, device=device, symptom="noise")
    assert caught.value.code == "device.not_found"
    with pytest.raises(BenchnightError) as caught:
        fault_searches_services.answer_with_test(by=operator, search=search, step="common_mode", test=home)
    assert caught.value.code == "fault.not_found"


def test_a_test_that_was_withdrawn_leaves_its_outcome_and_no_dead_link(member, device, search):
    pass_over(member, search, *OUTSIDE)
    bypass = record(member, device, "in_situ", sweep=s1p(2000), sweep_bypassed=s1p(52))
    fault_searches_services.answer_with_test(by=member, search=search, step="bypass", test=bypass)
    assert fault_searches_selectors.get_fault_search(member, search).steps[-1].test == bypass
    tests.withdraw_test(by=member, test=bypass)
    step = fault_searches_selectors.get_fault_search(member, search).steps[-1]
    assert (step.outcome, step.test) == ("device_makes_it_worse", "")
