"""Files of an intake may wait for an answer; tests that went to the wrong device move, with undo."""

import django.db.models.deletion
from django.db import migrations, models

import measurements.models.keys


class Migration(migrations.Migration):
    dependencies = [("measurements", "0024_bundles")]

    operations = [
        migrations.AddField("intakefile", "question", models.JSONField(default=dict)),
        migrations.CreateModel(
            name="TestMove",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "key",
                    models.CharField(
                        default=measurements.models.keys.new_key, editable=False, max_length=12, unique=True
                    ),
                ),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                ("tests", models.JSONField(default=list)),
                ("devices", models.JSONField(default=list)),
                ("undone_at", models.DateTimeField(null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="measurements.member",
                    ),
                ),
                (
                    "night",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="moves",
                        to="measurements.night",
                    ),
                ),
            ],
        ),
    ]
