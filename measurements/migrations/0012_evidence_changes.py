"""Tables for notes of what changed. Their triggers are no longer put on: migration 0014 removes them again."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("measurements", "0011_no_index_twice")]

    operations = [
        migrations.CreateModel(
            name="EvidenceChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("design_id", models.BigIntegerField(null=True)),
                ("device_id", models.BigIntegerField(null=True)),
                ("test_key", models.CharField(blank=True, max_length=12)),
            ],
        ),
        migrations.CreateModel(
            name="MovedDevice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("device_key", models.CharField(max_length=12)),
            ],
        ),
        # the constraint's index begins with the cell: one of the cell alone is one too many
        migrations.AlterField(
            "publishedvote",
            "cell",
            models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="votes",
                to="measurements.cell",
            ),
        ),
        migrations.AddIndex("publishedvote", models.Index(fields=["device_key"], name="vote_of_device")),
    ]
