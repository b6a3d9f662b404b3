"""Devices brought to a night, and a key of its own for each person who came."""

import django.db.models.deletion
from django.db import migrations, models

import measurements.models.keys


def give_keys(apps, schema_editor):
    """One default fills every row alike; each needs its own."""
    attendance = apps.get_model("measurements", "NightContributor")
    for row in attendance.objects.using(schema_editor.connection.alias).all():
        row.key = measurements.models.keys.new_key()
        row.save(update_fields=["key"])


class Migration(migrations.Migration):
    dependencies = [
        ("measurements", "0003_nights_and_upkeep"),
    ]

    operations = [
        migrations.AddField(
            model_name="nightcontributor",
            name="key",
            field=models.CharField(default="", editable=False, max_length=12),
            preserve_default=False,
        ),
        migrations.RunPython(give_keys, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="nightcontributor",
            name="key",
            field=models.CharField(
                default=measurements.models.keys.new_key, editable=False, max_length=12, unique=True
            ),
        ),
        migrations.CreateModel(
            name="NightDevice",
            fields=[
                (
                    "id",
                    models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID"),
                ),
                ("brought_at", models.DateTimeField(auto_now_add=True)),
                (
                    "device",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="nights",
                        to="measurements.device",
                    ),
                ),
                (
                    "night",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="brought",
                        to="measurements.night",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("night", "device"), name="night_device_once")
                ],
            },
        ),
    ]
