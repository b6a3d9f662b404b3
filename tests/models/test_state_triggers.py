"""The triggers that note changes of what a service state rests on are there after all migrations.

SQLite drops those of a table that a migration builds anew.
"""

from __future__ import annotations

from importlib import import_module

import pytest
from django.db import connection

from measurements.models import StateChange
from tests import factories

TRIGGERS = import_module("measurements.migrations.0029_kept_states").list_triggers()


def test_every_trigger_is_there(db):
    asked = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
    }
    with connection.cursor() as cursor:
        cursor.execute(asked[connection.vendor])
        there = {name for (name,) in cursor.fetchall()}
    assert {name for name, *_ in TRIGGERS} <= there and len(TRIGGERS) == 18


@pytest.fixture
def device(reference_data):
    owner = factories.member("Ann")
    key = factories.device(owner)
    factories.readings(owner, key)
    factories.look(owner, key, factories.date(2026, 3, 1))
    StateChange.objects.all().delete()
    return key


# what `selectors.upkeep.upkeep_facts` and `repeatability` read of each table: written here by hand, so that a
# column that a trigger forgets is found
READ = {
    "test": "key kind settings measured_on recorded_at recorded_by_id night_id excluded_reason recipe_doubt "
    "recipe_confirmed_at device_id",
    "result": "test_id current figures",
    "inspection": "device_id inspected_on findings recorded_at",
    "device": "contributor_id design_id baseline_id retired_on registered_at",
    "design": "purpose principle ratio",
}


@pytest.mark.parametrize(
    ("table", "column"), [(table, column) for table, columns in READ.items() for column in columns.split()]
)
def test_a_write_of_each_column_is_noted(device, table, column):
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE measurements_{table} SET {column} = {column}")
    assert StateChange.objects.exclude(device_number=None).exists()
