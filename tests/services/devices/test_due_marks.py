"""After an event many devices are marked at once; what the event asks for clears the mark, and no less."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, DueMark
from measurements.selectors.upkeep import service_states
from measurements.services.devices import due_marks
from measurements.services.upkeep import inspections
from tests import factories
from tests.factories import look

STORM = dict.fromkeys(("terminals", "moisture", "enclosure", "strain_relief", "locking", "plug_water"), "ok")


@pytest.fixture
def steward(reference_data):
    return factories.member("Stella", "steward")


@pytest.fixture
def shelf(member):
    design = factories.design(member)
    return [factories.device(member, design, tag=f"C-{index}") for index in range(3)]


def today():
    return timezone.now().date()


def mark(by, keys, **more):
    return due_marks.mark_devices_due(by=by, devices_marked=keys, **{"reason": "storm", **more})


def since(member, key):
    return service_states.get_service_state(member, key).due_since


def test_many_at_once(steward, member, shelf):
    marked = mark(steward, [*shelf[:2], shelf[0]], reason="  storm \n of May ")
    assert marked.count == 2
    assert [since(member, key) for key in shelf] == [today(), today(), None]
    assert service_states.get_service_state(member, shelf[0]).due_reason == "storm of May"
    assert AuditEntry.objects.filter(action="device.mark_due", actor="Stella").count() == 2


def test_all_or_none(steward, shelf):
    with pytest.raises(BenchnightError):
        mark(steward, [shelf[0], "zzzzzzzzzzzz"])
    assert not DueMark.objects.exists() and not AuditEntry.objects.filter(action="device.mark_due").exists()


@pytest.mark.parametrize(
    ("keys", "sent", "code"),
    [
        ([], {}, "due.nothing"),
        (["x"], {"reason": ""}, "due.reason"),
        (["x"], {"reason": "y" * 121}, "due.reason"),
        (["x"], {"event": "flood of frogs"}, "due.event"),
        ([f"{n}" for n in range(501)], {}, "due.too_many"),
    ],
)
def test_what_is_wrong_is_said(steward, keys, sent, code):
    with pytest.raises(BenchnightError) as caught:
        mark(steward, keys, **sent)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("most", "count"), [(due_marks.MOST_AT_ONCE, 501), (due_marks.MOST_OF_FILTER, 20_001)]
)
def test_bounds(steward, most, count):
    """By their keys and by a filter; one more than is allowed marks none."""
    with pytest.raises(BenchnightError, match=f"Choose up to {most} at a time") as caught:
        mark(steward, [f"{number}" for number in range(count)], most=most)
    assert caught.value.code == "due.too_many" and not DueMark.objects.exists()


def test_an_event_needs_no_reason(steward, member, shelf):
    mark(steward, shelf, event="storm", reason="")
    assert service_states.get_service_state(member, shelf[0]).due_reason == "Storm or flood"


def test_members_mark_nothing(member, shelf):
    with pytest.raises(BenchnightError) as caught:
        mark(member, shelf)
    assert caught.value.code == "account.operators_only"


def test_an_operator_marks_only_what_is_his_to_see(shelf):
    with pytest.raises(BenchnightError) as caught:
        mark(factories.member("Olga", "operator"), shelf)
    assert caught.value.code == "device.not_found"


class TestClearing:
    @pytest.fixture
    def marked(self, steward, member, shelf):
        factories.record(member, shelf[0], measured_on=today() - timedelta(days=9))
        factories.readings(member, shelf[0], measured_on=today() - timedelta(days=9))
        look(member, shelf[0], today() - timedelta(days=9))
        assert service_states.get_service_state(member, shelf[0]).state == "serviceable"
        mark(steward, shelf, event="storm", reason="")
        return shelf[0]

    def state(self, member, key):
        return service_states.get_service_state(member, key)

    def test_not_by_a_single_answer(self, member, marked):
        look(member, marked, today(), terminals="ok")
        row = self.state(member, marked)
        assert row.state == "overdue" and "moisture" in row.reasons[0].message
        assert "load match" in row.next_step.message.lower()

    def test_by_what_the_event_asks_for(self, member, marked):
        look(member, marked, today(), **STORM)
        assert self.state(member, marked).state == "overdue"
        factories.readings(member, marked, measured_on=today())
        assert self.state(member, marked).state == "serviceable" and since(member, marked) is None

    def test_it_comes_back_with_an_inspection_that_was_withdrawn(self, member, marked):
        key = look(member, marked, today(), **STORM)
        factories.readings(member, marked, measured_on=today())
        inspections.withdraw_inspection(by=member, inspection=key)
        assert since(member, marked) == today()

    def test_not_by_an_inspection_of_before(self, member, marked):
        look(member, marked, today() - timedelta(days=1), **STORM)
        factories.readings(member, marked, measured_on=today())
        assert since(member, marked) == today()

    def test_not_by_what_was_recorded_that_day_before_the_mark(self, steward, member, shelf):
        look(member, shelf[1], today(), **STORM)
        factories.readings(member, shelf[1], measured_on=today())
        mark(steward, [shelf[1]], event="storm", reason="")
        assert since(member, shelf[1]) == today()
        # the same answers again are a new look after the storm
        look(member, shelf[1], today(), **STORM)
        factories.readings(member, shelf[1], measured_on=today(), dc_options="bleeder")
        assert since(member, shelf[1]) is None

    def test_not_by_a_test_that_does_not_count(self, steward, member, shelf):
        mark(steward, shelf, event="lightning", reason="")
        look(member, shelf[0], today())
        factories.readings(member, shelf[0], measured_on=today())
        factories.record(member, shelf[0], measured_on=today(), calibrated="false")
        assert since(member, shelf[0]) == today()

    def test_one_mark_does_not_hide_another(self, steward, member, marked):
        mark(steward, [marked], event="drop", reason="")
        look(member, marked, today(), **STORM)
        factories.readings(member, marked, measured_on=today())
        row = self.state(member, marked)
        assert row.state == "overdue" and row.due_reason == "Dropped or knocked"

    def test_by_hand(self, steward, member, marked):
        with pytest.raises(BenchnightError):
            due_marks.clear_due_marks(by=member, devices_marked=[marked])
        due_marks.clear_due_marks(by=steward, devices_marked=[marked])
        assert since(member, marked) is None


class TestUndo:
    def test_one_action_is_taken_back_as_one(self, steward, member, shelf):
        first = mark(steward, [shelf[0]], event="drop", reason="")
        every = mark(steward, shelf, event="storm", reason="")
        assert due_marks.undo_marks(by=steward, batch=every.batch) == 3
        assert [since(member, key) for key in shelf] == [today(), None, None]
        assert AuditEntry.objects.filter(action="device.clear_due", detail__batch=every.batch).count() == 3
        with pytest.raises(BenchnightError) as caught:
            due_marks.undo_marks(by=steward, batch=every.batch)
        assert caught.value.code == "due.no_batch"
        assert due_marks.undo_marks(by=steward, batch=first.batch) == 1

    def test_an_operator_undoes_only_what_he_marked(self, steward, shelf):
        marked = mark(steward, shelf)
        with pytest.raises(BenchnightError) as caught:
            due_marks.undo_marks(by=factories.member("Olga", "operator"), batch=marked.batch)
        assert caught.value.code == "due.no_batch" and DueMark.objects.count() == 3
