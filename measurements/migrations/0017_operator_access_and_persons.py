"""Accesses to devices on a night's bench with their ends, requests to owners, and persons who count.

Devices of members that are on a night's list were opened by name and tag, which opens nothing now: these
accesses end here.
"""

import django.db.models.deletion
import measurements.models.keys
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone


def end_accesses_by_name(apps, schema_editor):
    brought = apps.get_model("measurements", "NightDevice").objects
    brought.exclude(device__contributor__member=None).update(ended_at=timezone.now())


def write_names(apps, schema_editor):
    attended = apps.get_model("measurements", "NightContributor").objects.select_related("contributor__member")
    for person in attended.iterator():
        member = person.contributor.member
        person.name = person.contributor.guest_name if member is None else member.name
        person.save(update_fields=["name"])


class Migration(migrations.Migration):

    dependencies = [
        ('measurements', '0016_recipe_doubts'),
    ]

    operations = [
        migrations.CreateModel(
            name='BenchRequest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(default=measurements.models.keys.new_key, editable=False, max_length=12, unique=True)),
                ('name', models.CharField(max_length=64)),
                ('tag', models.CharField(max_length=64)),
                ('asked_at', models.DateTimeField(auto_now_add=True)),
                ('answer', models.CharField(blank=True, default='', max_length=3)),
                ('answered_at', models.DateTimeField(null=True)),
            ],
        ),
        migrations.RemoveConstraint(
            model_name='nightdevice',
            name='night_device_once',
        ),
        migrations.AddField(
            model_name='contributor',
            name='confirmed_at',
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name='contributor',
            name='confirmed_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='contributor',
            name='person',
            field=models.CharField(blank=True, db_index=True, default='', max_length=12),
        ),
        migrations.AddField(
            model_name='nightcontributor',
            name='name',
            field=models.CharField(blank=True, max_length=64),
        ),
        migrations.AddField(
            model_name='nightdevice',
            name='ended_at',
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name='nightdevice',
            name='ended_by_owner',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='nightdevice',
            name='opened_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='nightdevice',
            name='opened_how',
            field=models.CharField(choices=[('registered', 'Registered'), ('label', 'Label'), ('owner', 'Owner')], default='registered', max_length=10),
        ),
        migrations.AddField(
            model_name='test',
            name='shares_bytes',
            field=models.BooleanField(db_default=False, default=False),
        ),
        migrations.AddConstraint(
            model_name='nightdevice',
            constraint=models.UniqueConstraint(condition=models.Q(('ended_at', None)), fields=('night', 'device'), name='night_device_open_once'),
        ),
        migrations.AddField(
            model_name='benchrequest',
            name='asked_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='benchrequest',
            name='device',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='requests', to='measurements.device'),
        ),
        migrations.AddField(
            model_name='benchrequest',
            name='night',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='requests', to='measurements.night'),
        ),
        migrations.RunPython(end_accesses_by_name, migrations.RunPython.noop),
        migrations.RunPython(write_names, migrations.RunPython.noop),
    ]
