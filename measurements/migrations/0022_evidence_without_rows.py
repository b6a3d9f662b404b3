"""Rows of single devices go, and everything that was published under the older rule is withdrawn.

Cells, the votes behind them, learned models and the contents of release files are deleted; the numbers of the
releases stay, so that the next one counts on. The next release starts afresh: it knows of nothing published
before, because what was published before told more of single devices than the rule now allows.
"""

from django.db import migrations, models


def withdraw_releases(apps, schema_editor):
    def get_rows(name):
        return apps.get_model("measurements", name).objects.using(schema_editor.connection.alias)

    get_rows("LearnedModel").delete()
    get_rows("PublishedVote").delete()
    get_rows("Cell").delete()
    get_rows("ReleaseFilePart").delete()
    get_rows("ReleaseFile").update(withdrawn=True)


class Migration(migrations.Migration):

    dependencies = [("measurements", "0021_group_kit")]

    operations = [
        migrations.DeleteModel("EvidenceSample"),
        migrations.AddField("cell", "spread_curves", models.BinaryField(default=bytes)),
        migrations.RunPython(withdraw_releases, migrations.RunPython.noop),
    ]
