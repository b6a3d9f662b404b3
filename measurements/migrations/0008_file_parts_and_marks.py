"""Release files in parts, and marks of what was decided; a file's bytes move with it, both ways."""

import gzip

import django.db.models.deletion
from django.db import migrations, models

PART_BYTES = 1 << 20


def cut(apps, schema_editor):
    file_model = apps.get_model("measurements", "ReleaseFile")
    part_model = apps.get_model("measurements", "ReleaseFilePart")
    for file in file_model.objects.using(schema_editor.connection.alias).order_by("id").iterator(chunk_size=1):
        if file.content is None:
            file_model.objects.using(schema_editor.connection.alias).filter(pk=file.pk).update(withdrawn=True)
            continue
        whole = bytes(file.content)
        for number, start in enumerate(range(0, len(whole), PART_BYTES)):
            packed = gzip.compress(whole[start : start + PART_BYTES], 6, mtime=0)
            part_model.objects.using(schema_editor.connection.alias).create(file=file, number=number, content=packed)


def join(apps, schema_editor):
    file_model = apps.get_model("measurements", "ReleaseFile")
    part_model = apps.get_model("measurements", "ReleaseFilePart")
    for file in file_model.objects.using(schema_editor.connection.alias).filter(withdrawn=False).order_by("id").iterator(chunk_size=1):
        parts = part_model.objects.using(schema_editor.connection.alias).filter(file=file).order_by("number").values_list("content", flat=True)
        whole = b"".join(gzip.decompress(bytes(part)) for part in parts)
        file_model.objects.using(schema_editor.connection.alias).filter(pk=file.pk).update(content=whole)


class Migration(migrations.Migration):

    dependencies = [("measurements", "0007_flagged_results")]

    operations = [
        migrations.CreateModel(
            name="ReleaseFilePart",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                ("content", models.BinaryField()),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="parts",
                        to="measurements.releasefile",
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("file", "number"), name="release_file_part_once")],
            },
        ),
        migrations.AddField("releasefile", "withdrawn", models.BooleanField(default=False)),
        migrations.RunPython(cut, join),
        migrations.RemoveField("releasefile", "content"),
        migrations.CreateModel(
            name="DecisionMark",
            fields=[
                (
                    "design",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="mark",
                        serialize=False,
                        to="measurements.design",
                    ),
                ),
                ("mark", models.CharField(max_length=96)),
                ("action", models.CharField(max_length=8)),
            ],
        ),
    ]
