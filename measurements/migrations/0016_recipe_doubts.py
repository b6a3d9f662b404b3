"""A build whose curve contradicts its recipe waits for its owner's word, which is kept with the test."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("measurements", "0015_usual_spreads")]

    operations = [
        migrations.AddField("test", "recipe_doubt", models.JSONField(null=True)),
        migrations.AddField("test", "recipe_confirmed_at", models.DateTimeField(null=True)),
    ]
