"""Three foreign keys lose an index that a constraint beginning with the same column repeats."""

import django.db.models.deletion
from django.db import migrations, models


def pointing(to, name):
    return models.ForeignKey(
        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name=name, to=f"measurements.{to}"
    )


class Migration(migrations.Migration):

    dependencies = [("measurements", "0010_packed_traces")]

    operations = [
        migrations.AlterField("result", "test", pointing("test", "results")),
        migrations.AlterField("sweepfile", "test", pointing("test", "sweeps")),
        migrations.AlterField("test", "device", pointing("device", "tests")),
    ]
