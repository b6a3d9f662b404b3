"""Sessions that end together, a mark on results that ask for a look, and an audit log that only grows."""

from django.db import migrations, models

BATCH = 1000
# as `rf.flags.needs_review` had it when this was written
CODES = {"pairs_disagree", "balance_sweeps_disagree", "series_off_nominal"}
TABLE = "measurements_auditentry"

SQLITE = [
    f"""CREATE TRIGGER audit_never_changes BEFORE UPDATE ON {TABLE}
    BEGIN SELECT RAISE(ABORT, 'The audit log is append-only.'); END""",
]
SQLITE_BACK = ["DROP TRIGGER audit_never_changes"]
POSTGRESQL = [
    """CREATE FUNCTION audit_append_only() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'The audit log is append-only.' USING ERRCODE = 'integrity_constraint_violation';
    END $$""",
    f"""CREATE TRIGGER audit_never_changes BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION audit_append_only()""",
]
POSTGRESQL_BACK = [f"DROP TRIGGER audit_never_changes ON {TABLE}", "DROP FUNCTION audit_append_only()"]


def _run(schema_editor, on_sqlite, on_postgresql):
    for statement in on_sqlite if schema_editor.connection.vendor == "sqlite" else on_postgresql:
        schema_editor.execute(statement)


def close_the_log(apps, schema_editor):
    _run(schema_editor, SQLITE, POSTGRESQL)


def open_the_log(apps, schema_editor):
    _run(schema_editor, SQLITE_BACK, POSTGRESQL_BACK)


def mark_flagged(apps, schema_editor):
    results = apps.get_model("measurements", "Result").objects.using(schema_editor.connection.alias)
    found = []
    rows = results.filter(current=True).values_list("pk", "figures").order_by("pk")
    for pk, figures in rows.iterator(chunk_size=BATCH):
        flags = figures.get("flags", ())
        if any(flag["severity"] in ("exclude", "refuse") or flag["code"] in CODES for flag in flags):
            found.append(pk)
    for start in range(0, len(found), BATCH):
        results.filter(pk__in=found[start : start + BATCH]).update(flagged=True)


class Migration(migrations.Migration):
    dependencies = [("measurements", "0005_packed_evidence")]

    operations = [
        migrations.AddField("member", "sessions_ended", models.PositiveIntegerField(default=0, db_default=0)),
        migrations.AddField("result", "flagged", models.BooleanField(default=False, db_default=False)),
        migrations.RunPython(mark_flagged, migrations.RunPython.noop),
        migrations.RunPython(close_the_log, open_the_log),
    ]
