"""A build whose curve contradicts its recipe waits outside the evidence for its owner's word."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.errors import BenchnightError
from measurements.models import Device, Result, Test
from measurements.services.devices import devices
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


def send(by, device: str, data: bytes, **settings):
    return tests.record_test(
        by=by,
        device=device,
        uploads={"sweep": Upload("own.s2p", data)},
        settings=parse_settings({"kind": "common_mode", "calibrated": "true", **settings}),
        measured_on=date(2026, 3, 14),
    )


def counts(key: str) -> bool:
    result = Result.objects.get(test__key=key, current=True)
    assert (result.published is not None) == result.counts_as_evidence
    return result.counts_as_evidence


def test_a_build_that_is_its_recipe_counts_at_once(member):
    device = factories.device(member, factories.design(member, turns=8, mix="43"))
    key = send(member, device, factories.wound_s2p("43", 8)).key
    assert counts(key) and Test.objects.get(key=key).recipe_doubt is None


def test_one_off_by_a_factor_of_three_waits_and_its_result_says_nothing_of_it(member):
    device = factories.device(member, factories.design(member, turns=14, mix="43"))
    key = send(member, device, factories.wound_s2p("43", 8)).key
    assert not counts(key)
    test = Test.objects.get(key=key)
    # (8/14)^2 of the impedance, by definition of a winding
    assert test.recipe_doubt["contradicts"] and test.recipe_doubt["low_ratio"] == pytest.approx(
        0.33, abs=0.03
    )
    # trade: a recipe in doubt is no flag, and no verdict goes for it
    result = Result.objects.get(test=test)
    assert {flag["severity"] for flag in result.figures["flags"]} <= {"note"}
    assert any(b["meets"] is not None for b in result.figures["bands"])


def test_the_owners_word_makes_it_count_also_when_sent_with_the_same_test_again(member):
    device = factories.device(member, factories.design(member, turns=14, mix="43"))
    data = factories.wound_s2p("43", 8)
    first = send(member, device, data)
    again = send(member, device, data, recipe_confirmed="true")
    assert (again.key, again.created) == (first.key, False)
    assert counts(first.key) and Test.objects.get(key=first.key).recipe_confirmed_at is not None
    other = factories.device(member, factories.design(member, turns=14, mix="43"), tag="C-2")
    assert counts(send(member, other, factories.choke_s2p(seed=4), recipe_confirmed="true").key)


def test_nobody_else_may_confirm(member):
    key = factories.record(member, factories.device(member), recipe_confirmed="")
    with pytest.raises(BenchnightError) as refused:
        tests.confirm_recipe(by=factories.member("stranger"), test=key)
    assert refused.value.code == "test.not_found" and not counts(key)


def test_filing_the_device_under_its_true_recipe_settles_it_and_a_wrong_one_raises_it(member):
    wrong, right = (factories.design(member, turns=turns, mix="43") for turns in (14, 8))
    device = factories.device(member, wrong)
    key = send(member, device, factories.wound_s2p("43", 8)).key
    assert not counts(key)
    devices.update_device(by=member, device=device, version=_version(device), design=right)
    assert counts(key)
    devices.update_device(by=member, device=device, version=_version(device), design=wrong)
    assert not counts(key)


def _version(device: str) -> int:
    return Device.objects.get(key=device).version
