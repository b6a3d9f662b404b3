"""Files of an intake may wait for an answer; tests that went to the wrong device move, with undo."""

import django.db.models.deletion
from django.db import migrations, models

import measurements.models.keys


class Migration(migrations.Migration):
    dependencies = [("measurements", "0019_frozen_answers"), ("measurements", "0023_group_kit")]

    operations = [
        migrations.AddField("intakefile", "question", models.JSONField(default=dict)),
    ]
