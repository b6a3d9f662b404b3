"""A cell keeps which devices are of one person, and a release how far builds of a design usually spread.

Both are for the chance that a verdict rests on. Cells that are there know neither until they are renewed.
"""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("measurements", "0014_releases_without_notes")]

    operations = [
        migrations.AddField("cell", "persons", models.BinaryField(default=bytes)),
        migrations.AddField("cell", "one_jig", models.BooleanField(default=False)),
        migrations.AddField("release", "usual_spreads", models.JSONField(default=dict)),
    ]
