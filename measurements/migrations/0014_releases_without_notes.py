"""A release reads everything that counts: the notes of what changed go, with their triggers."""

from django.db import migrations

# (table, trigger), as migration 0012 put them on before this one; a new database has none
TRIGGERS = (
    ("measurements_result", "evidence_result_added"),
    ("measurements_result", "evidence_result_changed"),
    ("measurements_result", "evidence_result_gone"),
    ("measurements_test", "evidence_test_added"),
    ("measurements_test", "evidence_test_changed"),
    ("measurements_test", "evidence_test_moved"),
    ("measurements_test", "evidence_test_gone"),
    ("measurements_device", "evidence_device_changed"),
    ("measurements_device", "evidence_device_moved"),
    ("measurements_device", "evidence_device_gone"),
    ("measurements_contributor", "evidence_contributor_changed"),
    ("measurements_publishedvote", "evidence_vote_changed"),
)


def take_off(apps, schema_editor):
    for table, name in TRIGGERS:
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}")
        else:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")
            schema_editor.execute(f"DROP FUNCTION IF EXISTS {name}()")


class Migration(migrations.Migration):

    dependencies = [("measurements", "0013_published_figures")]

    operations = [
        migrations.RunPython(take_off, migrations.RunPython.noop),
        migrations.DeleteModel("EvidenceChange"),
        migrations.DeleteModel("DecisionMark"),
        migrations.DeleteModel("MovedDevice"),
    ]
