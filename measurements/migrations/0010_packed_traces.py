"""Curves for display become a block of bytes, and large columns are stored without slow compression."""

import struct

from django.db import migrations, models

BATCH = 500
NAN = float("nan")
LARGE = {"sweepfile": ("raw", "freq_hz", "s"), "result": ("traces", "evidence_curve")}


def pack(apps, schema_editor):
    result_model = apps.get_model("measurements", "Result")
    results = result_model.objects.using(schema_editor.connection.alias)
    changed = []
    for row in results.exclude(listed_traces={}).only("listed_traces").order_by("id").iterator(chunk_size=BATCH):
        row.trace_names = list(row.listed_traces)
        values = [NAN if value is None else value for name in row.trace_names for value in row.listed_traces[name]]
        row.traces = struct.pack(f"<{len(values)}f", *values)
        changed.append(row)
        if len(changed) == BATCH:
            results.bulk_update(changed, ["trace_names", "traces"])
            changed = []
    results.bulk_update(changed, ["trace_names", "traces"])


def unpack(apps, schema_editor):
    result_model = apps.get_model("measurements", "Result")
    results = result_model.objects.using(schema_editor.connection.alias)
    changed = []
    for row in results.exclude(trace_names=[]).only("trace_names", "traces").order_by("id").iterator(chunk_size=BATCH):
        values = struct.unpack(f"<{len(row.traces) // 4}f", bytes(row.traces))
        points = len(values) // len(row.trace_names)
        shown = [None if value != value else float(f"{value:.7g}") for value in values]
        row.listed_traces = {
            name: shown[index * points : (index + 1) * points] for index, name in enumerate(row.trace_names)
        }
        changed.append(row)
        if len(changed) == BATCH:
            results.bulk_update(changed, ["listed_traces"])
            changed = []
    results.bulk_update(changed, ["listed_traces"])


def _alter_large(schema_editor, how):
    for table, columns in LARGE.items():
        for column in columns:
            schema_editor.execute(f"ALTER TABLE measurements_{table} ALTER COLUMN {column} SET {how}")


def store_quickly(apps, schema_editor):
    """lz4 where the server has it. Otherwise not at all: pglz takes longer over a sweep than all other work
    of its INSERT. Rows that are there stay as they are."""
    if schema_editor.connection.vendor != "postgresql":
        return
    with schema_editor.connection.cursor() as cursor:
        cursor.execute("SELECT 'lz4' = ANY(enumvals) FROM pg_settings WHERE name = 'default_toast_compression'")
        found = cursor.fetchone()
    _alter_large(schema_editor, "COMPRESSION lz4" if found and found[0] else "STORAGE EXTERNAL")


def store_as_usual(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        _alter_large(schema_editor, "STORAGE EXTENDED")
        _alter_large(schema_editor, "COMPRESSION DEFAULT")


class Migration(migrations.Migration):

    dependencies = [("measurements", "0009_audit_of_the_catalogue")]

    operations = [
        migrations.RenameField("result", "traces", "listed_traces"),
        migrations.AlterField("result", "listed_traces", models.JSONField(default=dict)),
        migrations.AddField("result", "trace_names", models.JSONField(default=list)),
        migrations.AddField("result", "traces", models.BinaryField(default=b"")),
        migrations.RunPython(pack, unpack),
        migrations.RemoveField("result", "listed_traces"),
        migrations.RunPython(store_quickly, store_as_usual),
    ]
