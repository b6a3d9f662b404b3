"""A fault that an inspection found stands until that very item is answered good."""

from __future__ import annotations

from datetime import date

from measurements.selectors.upkeep import service_states
from tests import factories
from tests.factories import look


def test_an_inspection_that_did_not_look_at_it_changes_nothing(member):
    device = factories.device(member)
    factories.record(member, device)
    look(member, device, date(2026, 5, 1), moisture="fault", terminals="ok")
    look(member, device, date(2026, 6, 1), terminals="ok")
    state = service_states.get_service_state(member, device)
    assert state.state == "unserviceable"
    assert "moisture (1 May 2026)" in " ".join(each.message for each in state.reasons)
    look(member, device, date(2026, 6, 2), moisture="ok")
    state = service_states.get_service_state(member, device)
    assert state.state == "unserviceable"
    assert "without what was done" in " ".join(each.message for each in state.reasons)
    look(member, device, date(2026, 6, 3), moisture="ok", note="dried, the drain hole opened")
    assert service_states.get_service_state(member, device).state != "unserviceable"
