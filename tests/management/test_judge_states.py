"""`manage.py judge_states` and the server's own minute judge what waits, and nothing twice."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command

from deploy import background
from measurements.models import DeviceState
from tests import factories


@pytest.fixture
def device(reference_data):
    return factories.device(factories.member("Ann"))


def test_the_command_says_how_many(device):
    said = [io.StringIO(), io.StringIO()]
    for out in said:
        call_command("judge_states", stdout=out)
    assert [out.getvalue() for out in said] == ["1 devices judged\n", "0 devices judged\n"]
    assert DeviceState.objects.get().state == "untested"


def test_the_server_judges_what_waits(device):
    assert background.keep_waiting_states_once() == 1
    assert background.keep_waiting_states_once() == 0
