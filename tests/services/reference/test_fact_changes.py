"""What a steward writes of the group counts over the server's settings."""

from __future__ import annotations

import pytest
from django.db import OperationalError

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, group_facts
from measurements.services.reference import fact_changes
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def steward():
    return factories.member("Vera", role="steward")


def test_the_servers_settings_count_until_a_steward_writes(steward, settings):
    settings.BENCHNIGHT_GROUP_NAME, settings.BENCHNIGHT_DATA_TERMS = "Server's", "CC0-1.0"
    assert group_facts.get_data_terms() == ("Server's", "CC0-1.0")
    fact_changes.change_group_facts(by=steward, group_name="  Harbour   group ", data_terms="CC-BY-4.0")
    fact_changes.change_group_facts(by=steward, region="3", time_zone="Pacific/Auckland")
    assert group_facts.get_data_terms() == ("Harbour group", "CC-BY-4.0")
    assert (group_facts.get_region(), group_facts.get_time_zone()) == (3, "Pacific/Auckland")
    entry = AuditEntry.objects.filter(action="group_setting.change", subject="region").get()
    assert entry.detail["after"] == 3


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("group_name", ""), ("group_name", "x" * 81), ("group_name", "a\x00b"),
        ("region", "4"), ("region", "two"), ("region", ""),
        ("time_zone", "Atlantis/Harbour"), ("time_zone", "../../etc/passwd"), ("time_zone", ""),
        ("data_terms", "x" * 401),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_beside_its_name(steward, name, value):
    with pytest.raises(BenchnightError) as refused:
        fact_changes.change_group_facts(by=steward, **{name: value})
    assert [fault.field for fault in refused.value.errors] == [name]
    assert group_facts.read_group_facts() == {}


def test_only_a_steward_writes(steward):
    with pytest.raises(BenchnightError):
        fact_changes.change_group_facts(by=factories.member("Ann"), group_name="Mine")
    with pytest.raises(BenchnightError, match="no such fact"):
        fact_changes.change_group_facts(by=steward, demo="yes")


def test_while_the_database_is_away_the_last_facts_count(monkeypatch):
    group_facts.keep_group_facts({"region": 1}, for_s=-1)
    monkeypatch.setattr(group_facts, "read_group_facts", _fail)
    assert group_facts.get_region() == 1
    group_facts.forget_group_facts()
    assert group_facts.get_group_facts() == {}


def _fail():
    raise OperationalError("away")
