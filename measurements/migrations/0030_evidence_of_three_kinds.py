"""Cells say of which kind of test they are: what was published until now is of common-mode tests.

Tests of loss and match that are here already become private: their owners were told that no figure of them is
published. Each owner may publish them on the page of the test.
"""

from django.db import migrations, models


def keep_earlier_tests_private(apps, schema_editor):
    tests = apps.get_model("measurements", "Test").objects.using(schema_editor.connection.alias)
    tests.filter(kind__in=("insertion_loss", "load_match")).update(is_private=True)


class Migration(migrations.Migration):

    dependencies = [("measurements", "0029_kept_states")]

    operations = [
        migrations.AddField(
            "cell",
            "kind",
            models.CharField(max_length=16, default="common_mode", db_default="common_mode"),
        ),
        migrations.RemoveConstraint("cell", "cell_one_open_per_set"),
        migrations.AddConstraint(
            "cell",
            models.UniqueConstraint(
                fields=["design", "kind", "band"],
                condition=models.Q(last_release=None),
                name="cell_one_open_per_set",
            ),
        ),
        migrations.RunPython(keep_earlier_tests_private, migrations.RunPython.noop),
    ]
