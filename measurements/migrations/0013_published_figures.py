"""What a result publishes is kept beside it; where it is not yet, a release makes it of the figures."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("measurements", "0012_evidence_changes")]

    operations = [migrations.AddField("result", "published", models.JSONField(null=True))]
