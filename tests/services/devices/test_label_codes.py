"""Blank labels: made in advance, bound once, then as good as the device's own label."""

from __future__ import annotations

import pytest

from measurements.models import LabelCode
from measurements.selectors.devices import labels
from measurements.services.devices import attendance, devices, label_codes
from tests import club, factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def ada(reference_data):
    return factories.member("Ada")


def test_a_blank_label_opens_nothing_and_then_its_device(ada):
    (code,) = label_codes.make_blank_codes(by=ada, count=1)
    operator = club.operator()
    night = club.night(operator)
    refused("device.not_found", attendance.open_device_by_label, by=operator, night=night, label=code)
    assert labels.find_label(ada, code).state == "blank"
    key = devices.register_device(by=ada, design=None, tag="K-1", code=code).key
    assert labels.find_label(ada, code).device == key
    opened = attendance.open_device_by_label(by=operator, night=night, label=f"http://x/bench/{code}/")
    assert opened.key == key


def test_a_label_is_bound_once(ada):
    (code,) = label_codes.make_blank_codes(by=ada, count=1)
    first, second = factories.device(ada, tag="A"), factories.device(ada, tag="B")
    label_codes.bind_code(by=ada, code=code, device=first)
    refused("label.taken", label_codes.bind_code, by=ada, code=code, device=second)
    refused("label.taken", label_codes.bind_code, by=ada, code=first, device=second)
    refused("label.not_found", label_codes.bind_code, by=ada, code="2" * 12, device=second)
    assert not labels.list_free_codes(ada)


def test_nobody_puts_a_label_on_anothers_device(ada):
    (code,) = label_codes.make_blank_codes(by=ada, count=1)
    key = factories.device(factories.member("Bob"))
    refused("device.not_found", label_codes.bind_code, by=ada, code=code, device=key)


def test_a_registration_with_a_used_label_registers_nothing(ada):
    (code,) = label_codes.make_blank_codes(by=ada, count=1)
    devices.register_device(by=ada, design=None, tag="K-1", code=code)
    refused("label.taken", devices.register_device, by=ada, design=None, tag="K-2", code=code)
    assert len(labels.list_free_codes(ada)) == 0 and LabelCode.objects.count() == 1


def test_codes_are_bounded(ada):
    refused("label.count", label_codes.make_blank_codes, by=ada, count=201)
    for _ in range(5):
        label_codes.make_blank_codes(by=ada, count=200)
    refused("label.too_many", label_codes.make_blank_codes, by=ada, count=1)
