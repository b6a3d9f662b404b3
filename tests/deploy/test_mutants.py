"""The samples of mutation testing: always the same changes, and an honest count of those noticed."""

from __future__ import annotations

import pytest

from deploy import mutants


def test_the_sample_is_the_same_whatever_the_order_and_grows_by_adding():
    names = [f"measurements.rf.bands.x_find__mutmut_{number}" for number in range(50)]
    ten = mutants.choose_sample(names, 10)
    assert ten == mutants.choose_sample(names[::-1], 10)
    assert mutants.choose_sample(names, 20)[:10] == ten
    assert len(set(ten)) == 10 and set(ten) < set(names)


def test_only_a_failed_or_endless_run_of_tests_notices_a_change():
    # exit codes of pytest's documentation: 0 all passed, 1 a test failed, 5 no test was collected;
    # 24 is the signal of a process over its time, -11 of one that crashed
    outcome = mutants.sort_results("rf", {"passed": 0, "failed": 1, "none": 5, "slow": 24, "crashed": -11})
    assert outcome.noticed == ["failed", "slow"]
    assert outcome.unnoticed == ["passed", "none", "crashed"]
    assert outcome.share == pytest.approx(0.4)


def test_a_change_that_was_not_tried_is_no_success():
    with pytest.raises(RuntimeError, match="not tried"):
        mutants.sort_results("rf", {"one": 1, "two": None})


@pytest.mark.parametrize("room", mutants.ROOMS)
def test_every_room_has_tests_of_its_own(room: str):
    assert list((mutants.ROOT / "tests" / room).rglob("test_*.py"))
    assert list((mutants.ROOT / "measurements" / room).rglob("*.py"))


def test_an_empty_sample_is_no_success():
    assert mutants.Outcome("rf", [], []).share < mutants.LEAST_KILLED
