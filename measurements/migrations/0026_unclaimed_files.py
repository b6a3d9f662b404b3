"""A file that somebody checked without an account waits, unclaimed, for the account that keeps it."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("measurements", "0025_night_questions")]

    operations = [
        migrations.AddField(
            model_name="stagedupload",
            name="claim_sha256",
            field=models.CharField(blank=True, db_default="", default="", max_length=64),
        ),
        migrations.AlterField(
            model_name="stagedupload",
            name="member",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="staged",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
    ]
