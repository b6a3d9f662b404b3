"""An operator marks a check standard, reads its chart on the night and decides about tests that wait."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.models import CheckHold
from measurements.services.devices import devices
from tests import check_benches, club, factories
from tests.pages.conftest import signed_in

pytestmark = pytest.mark.usefixtures("reference_data")


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_from_marking_a_device_to_tests_that_wait_and_count_again():
    by = club.operator()
    client = signed_in(by)
    device = devices.register_device(by=by, design=factories.design(by), tag="Check-1").key
    assert "Make it the group's check standard" in text(client.get(f"/devices/{device}/"))
    assert "gives no evidence" in text(client.get(f"/devices/{device}/check-standard/"))
    refused = client.post(f"/devices/{device}/check-standard/", {"counts_from": "2099-01-01"})
    assert refused.status_code == 422 and "not in the future" in text(refused)
    answer = client.post(f"/devices/{device}/check-standard/", {"counts_from": ""})
    page = answer["Location"]
    assert "No sweep of it yet" in text(client.get(page))
    nights = check_benches.establish(by, device, 5)
    assert "It is the group's check standard" in text(client.get(f"/devices/{device}/"))

    night = check_benches.open_night(by, date(2026, 4, 1))
    shown = text(client.get(f"/nights/{night}/"))
    assert "Not swept this night" in shown
    guest = club.guest(by, night)
    test = club.record(by, club.guests_device(by, night, guest), night, calibrated="true").key
    check_benches.sweep(by, device, night, -3.0)
    for address in (f"/nights/{night}/", f"/nights/{night}/jig/", page):
        shown = text(client.get(address))
        assert "1 test of 1 April 2026 waits and does not count as evidence" in shown, address
        assert "is usual" in shown and "Look at the calibration first" in shown
    waits = text(client.get(f"/tests/{test}/"))
    assert "for now: it waits." in waits and "Its verdicts stay." in waits

    hold = CheckHold.objects.get().key
    assert client.post(f"/check-standards/waiting/{hold}/", {"reason": ""}).status_code == 422
    done = client.post(f"/check-standards/waiting/{hold}/", {"reason": "A plug had come off"})
    assert done["Location"] == f"/nights/{night}/#check"
    shown = text(client.get(f"/nights/{night}/"))
    assert "A plug had come off" in shown and "do not count" not in shown and "does not count" not in shown
    assert "This test counts as evidence" in text(client.get(f"/tests/{test}/"))
    assert client.get(f"/check-standards/waiting/{hold}/").status_code == 404

    for form in ("json", "svg"):
        drawn = client.get(f"{page}chart.{form}?view=check&chart=0&band=40m")
        assert drawn.status_code == 200
        assert client.get(f"{page}chart.{form}?view=check&chart=7&band=40m").status_code == 404
    assert nights and client.post(page).status_code == 302
    assert "ended" in text(client.get("/check-standards/"))
