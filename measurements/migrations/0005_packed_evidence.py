"""A device's evidence becomes one row instead of one per band; backwards, the rows come back."""

import struct

from django.db import migrations, models

NAMES = (
    "rejection_worst_db",
    "rejection_centre_db",
    "rejection_best_db",
    "resistance_smallest_ohm",
    "impedance_smallest_ohm",
)
LETTERS = {"full": "f", "interpolated": "i"}
COVERAGES = {letter: coverage for coverage, letter in LETTERS.items()}
NAN = float("nan")
BATCH = 500


def pack(apps, schema_editor):
    sample_model = apps.get_model("measurements", "EvidenceSample")
    samples = sample_model.objects.using(schema_editor.connection.alias).select_related("cell").prefetch_related("rows").order_by("id")
    changed = []
    for sample in samples.iterator(chunk_size=BATCH):
        rows = {row.band: row for row in sample.rows.all()}
        letters, values = [], []
        for band in sample.cell.bands:
            row = rows.get(band)
            letters.append("-" if row is None else LETTERS[row.coverage])
            found = [None if row is None else getattr(row, name) for name in NAMES]
            values += [NAN if value is None else value for value in found]
        sample.coverage = "".join(letters)
        sample.figures = struct.pack(f"<{len(values)}f", *values)
        changed.append(sample)
        if len(changed) == BATCH:
            sample_model.objects.using(schema_editor.connection.alias).bulk_update(changed, ["figures", "coverage"])
            changed = []
    sample_model.objects.using(schema_editor.connection.alias).bulk_update(changed, ["figures", "coverage"])


def unpack(apps, schema_editor):
    row_model = apps.get_model("measurements", "EvidenceRow")
    samples = apps.get_model("measurements", "EvidenceSample").objects.using(schema_editor.connection.alias).select_related("cell")
    rows = []
    for sample in samples.iterator(chunk_size=BATCH):
        values = struct.unpack(f"<{len(sample.cell.bands) * len(NAMES)}f", bytes(sample.figures))
        for index, band in enumerate(sample.cell.bands):
            letter = sample.coverage[index]
            if letter == "-":
                continue
            own = values[index * len(NAMES) : (index + 1) * len(NAMES)]
            shown = [round(value, 2) for value in own[:3]]
            shown += [None if value != value else float(f"{value:.4g}") for value in own[3:]]
            figures = dict(zip(NAMES, shown))
            rows.append(row_model(sample=sample, band=band, coverage=COVERAGES[letter], **figures))
        if len(rows) >= BATCH:
            row_model.objects.using(schema_editor.connection.alias).bulk_create(rows)
            rows = []
    row_model.objects.using(schema_editor.connection.alias).bulk_create(rows)


class Migration(migrations.Migration):

    dependencies = [("measurements", "0004_night_devices")]

    operations = [
        migrations.AddField("evidencesample", "figures", models.BinaryField(default=b""), preserve_default=False),
        migrations.AddField(
            "evidencesample", "coverage", models.CharField(max_length=64, default=""), preserve_default=False
        ),
        migrations.RunPython(pack, unpack),
        migrations.DeleteModel("EvidenceRow"),
    ]
