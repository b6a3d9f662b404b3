"""Tests that their owners keep private: they never vote."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("measurements", "0027_second_factors")]

    operations = [
        migrations.AddField(
            model_name="test",
            name="is_private",
            field=models.BooleanField(db_default=False, default=False),
        ),
    ]
