"""Analysers as their owners describe them once, and the one that a night uses."""

import django.db.models.deletion
import measurements.models.keys
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("measurements", "0019_due_marks")]

    operations = [
        migrations.CreateModel(
            name='DescribedAnalyser',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(default=measurements.models.keys.new_key, editable=False, max_length=12, unique=True)),
                ('name', models.CharField(max_length=64)),
                ('calibration', models.CharField(blank=True, max_length=200)),
                ('stated', models.JSONField(default=dict)),
                ('measured', models.JSONField(default=dict)),
                ('description', models.JSONField(default=dict)),
                ('checked_on', models.DateField(null=True)),
                ('described_at', models.DateTimeField(auto_now_add=True)),
                ('member', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='analysers', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.AddField(
            model_name='night',
            name='analyser',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='nights', to='measurements.describedanalyser'),
        ),
        migrations.AddConstraint(
            model_name='describedanalyser',
            constraint=models.UniqueConstraint(fields=('member', 'name'), name='analyser_name_once_per_account'),
        ),
    ]
