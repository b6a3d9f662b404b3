"""Marks after an event become rows of their own, so that one does not hide another.

A mark that stood so far was answered by nothing: it counts as made now, of an event that nobody named.
"""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone

from measurements.models.keys import new_key


def move_marks(apps, schema_editor):
    there = schema_editor.connection.alias  # a transfer migrates a second database
    marks = apps.get_model("measurements", "DueMark").objects.using(there)
    batch, now = new_key(), timezone.now()
    devices = apps.get_model("measurements", "Device").objects.using(there).exclude(due_since=None)
    for device in devices.iterator():
        marks.create(
            device=device, event="other", since=device.due_since, reason=device.due_reason, marked_at=now, batch=batch
        )


def move_marks_back(apps, schema_editor):
    there = schema_editor.connection.alias
    for mark in apps.get_model("measurements", "DueMark").objects.using(there).order_by("since").iterator():
        apps.get_model("measurements", "Device").objects.using(there).filter(pk=mark.device_id).update(
            due_since=mark.since, due_reason=mark.reason or mark.event
        )


class Migration(migrations.Migration):
    dependencies = [("measurements", "0018_check_standards")]

    operations = [
        migrations.CreateModel(
            name="DueMark",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("event", models.CharField(max_length=16)),
                ("since", models.DateField()),
                ("reason", models.CharField(blank=True, max_length=120)),
                ("marked_at", models.DateTimeField()),
                ("batch", models.CharField(db_index=True, max_length=12)),
                (
                    "device",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="due_marks",
                        to="measurements.device",
                    ),
                ),
                (
                    "marked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.RunPython(move_marks, move_marks_back),
        migrations.RemoveField("device", "due_since"),
        migrations.RemoveField("device", "due_reason"),
    ]
