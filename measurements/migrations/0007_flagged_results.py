"""The index that a steward's queue reads; apart from 0006, whose updates must be committed before it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("measurements", "0006_stewardship")]

    operations = [
        migrations.AddIndex(
            "result",
            models.Index(
                fields=["-test"],
                condition=models.Q(("current", True), ("flagged", True)),
                name="result_flagged",
            ),
        ),
    ]
