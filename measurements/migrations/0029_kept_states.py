"""A table of kept service states, and triggers that note every change on which one rests.

SQLite drops the triggers of a table that a later migration builds anew (AlterField and the like): such a
migration creates them again. `tests/models/test_state_triggers.py` fails while one is missing.
"""

import django.db.models.deletion
from django.db import migrations, models

OWN_FACTS = "INSERT INTO measurements_statechange (device_number) "
REPEATS = "INSERT INTO measurements_statechange (contributor_number) "


def note_device(row):
    return f"{OWN_FACTS}VALUES ({row}.device_id);"


def note_owner(device):
    return f"{REPEATS}SELECT contributor_id FROM measurements_device WHERE id = {device};"


def note_test(row):
    return f"{note_device(row)} {note_owner(f'{row}.device_id')}"


def note_result(row):
    test = f"measurements_test WHERE id = {row}.test_id"
    return (
        f"{OWN_FACTS}SELECT device_id FROM {test}; "
        f"{REPEATS}SELECT contributor_id FROM measurements_device WHERE id IN (SELECT device_id FROM {test});"
    )


def note_hold(row):
    return (
        f"{OWN_FACTS}SELECT DISTINCT device_id FROM measurements_test WHERE night_id = {row}.night_id "
        f"OR (night_id IS NULL AND {row}.night_id IS NULL AND recorded_by_id = {row}.recorded_by_id "
        f"AND measured_on = {row}.measured_on);"
    )


def note_device_row(row):
    return (
        f"{OWN_FACTS}VALUES ({row}.id); "
        f"INSERT INTO measurements_statechange (contributor_number) VALUES ({row}.contributor_id);"
    )


OF_DESIGN = f"{OWN_FACTS}SELECT id FROM measurements_device WHERE design_id = NEW.id;"

# table -> (what notes a row, columns of an update that count); "" for no trigger of that event
NOTED = {
    "test": (
        note_test,
        "device_id, key, kind, settings, measured_on, recorded_at, recorded_by_id, night_id, excluded_reason, "
        "recipe_doubt, recipe_confirmed_at",
    ),
    "result": (note_result, "test_id, current, figures"),
    "inspection": (note_device, "device_id, inspected_on, findings, recorded_at"),
    "duemark": (note_device, "device_id, event, since, reason, marked_at"),
    "checkhold": (note_hold, "night_id, recorded_by_id, measured_on, ended_at"),
}


def list_triggers():
    """Return (name, when, table, statements) of every trigger."""
    found = []
    for name, (note, columns) in NOTED.items():
        table = f"measurements_{name}"
        found += [
            (f"state_{name}_added", "AFTER INSERT", table, note("NEW")),
            (f"state_{name}_gone", "AFTER DELETE", table, note("OLD")),
            (f"state_{name}_changed", f"AFTER UPDATE OF {columns}", table, f"{note('OLD')} {note('NEW')}"),
        ]
    device = "contributor_id, design_id, baseline_id, retired_on, registered_at"
    return [
        *found,
        (
            "state_device_changed",
            f"AFTER UPDATE OF {device}",
            "measurements_device",
            f"{note_device_row('OLD')} {note_device_row('NEW')}",
        ),
        ("state_device_gone", "AFTER DELETE", "measurements_device", note_device_row("OLD")),
        ("state_design_changed", "AFTER UPDATE OF purpose, principle, ratio", "measurements_design", OF_DESIGN),
    ]


def create_triggers(apps, schema_editor):
    for name, when, table, statements in list_triggers():
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"CREATE TRIGGER {name} {when} ON {table} BEGIN {statements} END")
            continue
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN {statements} RETURN NULL; END $$"
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} {when} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()"
        )


def drop_triggers(apps, schema_editor):
    for name, _, table, _ in list_triggers():
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER {name}")
        else:
            schema_editor.execute(f"DROP TRIGGER {name} ON {table}")
            schema_editor.execute(f"DROP FUNCTION {name}()")


class Migration(migrations.Migration):

    dependencies = [("measurements", "0028_private_tests")]

    operations = [
        migrations.CreateModel(
            name='StateChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('device_number', models.BigIntegerField(db_index=True, null=True)),
                ('contributor_number', models.BigIntegerField(db_index=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='DeviceState',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(db_index=True, max_length=16)),
                ('codes', models.JSONField(default=list)),
                ('reason', models.TextField()),
                ('next_step', models.TextField()),
                ('due_on', models.DateField(null=True)),
                ('newest_on', models.DateField(null=True)),
                ('next_change_on', models.DateField(null=True)),
                ('judged_on', models.DateField()),
                ('standard', models.CharField(max_length=16)),
                ('repeats', models.JSONField(default=dict)),
                ('asks_repeats', models.BooleanField(default=False)),
                ('pool', models.BigIntegerField(default=0)),
                ('device', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='kept_state', to='measurements.device')),
            ],
        ),
        migrations.RunPython(create_triggers, drop_triggers),
    ]
