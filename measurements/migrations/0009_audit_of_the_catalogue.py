"""An index on the log's rows about the catalogue; counts of requests need not survive a crash of PostgreSQL."""

from django.db import migrations, models

ACTIONS = (
    "band.change",
    "band.end",
    "benchmark.change",
    "conductor.add",
    "core.name",
    "design.merge",
    "design.register",
    "design.rename",
    "group_setting.change",
    "group_setting.reset",
    "reference.load",
    "release.make",
)


def _alter(schema_editor, how):
    # every request waits for its count: without a log to flush it waits for no disk
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(f"ALTER TABLE measurements_usecount SET {how}")


def unlogged(apps, schema_editor):
    _alter(schema_editor, "UNLOGGED")


def logged(apps, schema_editor):
    _alter(schema_editor, "LOGGED")


class Migration(migrations.Migration):

    dependencies = [("measurements", "0008_file_parts_and_marks")]

    operations = [
        migrations.AddIndex(
            "auditentry",
            models.Index(fields=["id"], condition=models.Q(action__in=ACTIONS), name="audit_of_the_catalogue"),
        ),
        migrations.RunPython(unlogged, logged),
    ]
