"""The group's numbers: house defaults until a steward sets them, checked, versioned, audited."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.models import AuditEntry
from measurements.selectors.reference import reference
from measurements.services.reference import group_settings
from tests import factories

pytestmark = pytest.mark.django_db


def row(name: str) -> reference.GroupSettingRow:
    return next(each for each in reference.list_settings() if each.name == name)


def test_without_a_steward_the_house_defaults_hold():
    assert reference.get_settings() == {
        "service_test_interval_days": 365,
        "service_inspection_interval_days": 365,
        "service_watch_margin_db": 0.0,
        "service_drift_db": 3.0,
        "service_drift_loss_db": 0.25,
        "service_drift_swr": 0.2,
        "votes_per_contributor": 3,
    }
    assert all(each.is_house_default for each in reference.list_settings())


def test_a_steward_sets_a_number_and_the_log_says_what_was():
    steward = factories.member("stella", "steward")
    group_settings.change_group_setting(by=steward, name="service_test_interval_days", value=180)
    assert reference.get_setting("service_test_interval_days") == 180
    assert not row("service_test_interval_days").is_house_default
    entry = AuditEntry.objects.get(action="group_setting.change")
    assert (entry.actor, entry.subject) == ("stella", "service_test_interval_days")
    assert entry.detail == {"before": 365, "after": 180}


def test_a_number_that_was_changed_meanwhile_is_not_overwritten():
    steward = factories.member("stella", "steward")
    first = group_settings.change_group_setting(by=steward, name="service_drift_db", value=2.5)
    for stale in ("", "not a moment", "2020-01-01T00:00:00+00:00"):
        with pytest.raises(BenchnightError) as refused:
            group_settings.change_group_setting(by=steward, name="service_drift_db", value=4, version=stale)
        assert refused.value.code == "group_setting.stale"
    assert reference.get_setting("service_drift_db") == 2.5
    second = group_settings.change_group_setting(by=steward, name="service_drift_db", value=4, version=first)
    assert second == row("service_drift_db").version
    group_settings.reset_group_setting(by=steward, name="service_drift_db", version=second)
    assert row("service_drift_db").is_house_default
    assert reference.get_setting("service_drift_db") == 3.0


@pytest.mark.parametrize("value", [0, 3661, 1.5, float("nan"), float("inf"), True, "12", None])
def test_numbers_outside_the_rule_are_refused_with_what_is_allowed(value):
    steward = factories.member("stella", "steward")
    with pytest.raises(BenchnightError) as refused:
        group_settings.change_group_setting(by=steward, name="service_test_interval_days", value=value)
    assert refused.value.code == "group_setting.value"
    assert refused.value.errors[0].field == "service_test_interval_days"
    assert "whole number from 1 to 3660" in refused.value.detail


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_set_them(role):
    somebody = factories.member("mo", role)
    with pytest.raises(BenchnightError) as refused:
        group_settings.change_group_setting(by=somebody, name="service_drift_db", value=2)
    assert refused.value.kind == "forbidden"
    with pytest.raises(BenchnightError):
        group_settings.reset_group_setting(by=somebody, name="service_drift_db", version="")


def test_a_name_that_is_no_setting_is_not_found():
    steward = factories.member("stella", "steward")
    with pytest.raises(BenchnightError) as refused:
        group_settings.change_group_setting(by=steward, name="min_joiners", value=1)
    assert refused.value.kind == "not_found"
