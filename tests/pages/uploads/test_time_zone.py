"""Days of forms and hours of pages are those of the group's time zone; the API and files say UTC."""

import re
from datetime import UTC, datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from tests import club, factories
from tests.pages.conftest import signed_in

# an evening in the Americas: the day in UTC has already changed (UTC-8 in winter, IANA time zone database)
EVENING = datetime(2026, 1, 10, 3, 30, tzinfo=UTC)
ZONE = "America/Los_Angeles"


@pytest.fixture
def evening(monkeypatch, settings):
    settings.TIME_ZONE = ZONE
    timezone.activate(ZONE)
    monkeypatch.setattr(timezone, "now", lambda: EVENING)
    yield
    timezone.deactivate()


@pytest.mark.django_db
@pytest.mark.parametrize("page", ["pages:upload", "pages:night_open"])
def test_a_form_dates_an_evening_as_this_day(evening, reference_data, page):
    operator = club.operator()
    factories.device(operator, factories.design(operator))
    club.night(operator)
    reply = signed_in(operator).get(reverse(page), {"kind": "common_mode"}).content.decode()
    dates = re.findall(r'<input[^>]*type="date"[^>]*>', reply)
    assert any('value="2026-01-09"' in each for each in dates), dates


@pytest.mark.django_db
def test_an_hour_on_a_page_names_its_zone(evening, reference_data):
    steward = factories.member("Stina", "steward")
    reply = signed_in(steward).get(reverse("pages:steward_log")).content.decode()
    assert "2026-01-09 19:30:00 PST" in reply
