"""Intakes: many files of a night handed in at once, each followed to its end."""

from django.db import models

from measurements.models.accounts import Member
from measurements.models.keys import new_key
from measurements.models.nights import Night
from measurements.models.tests import Test


class Intake(models.Model):
    """One hand-in. Files are stored before it is acknowledged; a worker turns them into tests."""

    class State(models.TextChoices):
        QUEUED = "queued"
        RUNNING = "running"
        DONE = "done"

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="intakes")
    made_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    # who works on it and until when it may be taken for alive: a dead worker's intake is taken over
    worker = models.CharField(max_length=64, blank=True)
    alive_until = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)


class IntakeFile(models.Model):
    """One file of an intake with what the manifest says of it.

    assignment: the manifest's columns as given. unit: files with the same number make one test.
    raw: emptied once the file is stored as part of a test, or is already there.
    question: why a refused file waits for an answer rather than for a repair: code, group (files with the
    same one are answered together) and answer (the columns that a yes sets); empty without a question.
    """

    class State(models.TextChoices):
        WAITING = "waiting"
        STORED = "stored"
        ALREADY_THERE = "already_there"
        REFUSED = "refused"

    intake = models.ForeignKey(Intake, on_delete=models.CASCADE, related_name="files")
    number = models.PositiveIntegerField()
    name = models.CharField(max_length=255)
    assignment = models.JSONField(default=dict)
    unit = models.PositiveIntegerField()
    raw = models.BinaryField()
    raw_sha256 = models.CharField(max_length=64)
    state = models.CharField(max_length=13, choices=State, default=State.WAITING)
    reason = models.TextField(blank=True)
    question = models.JSONField(default=dict)
    test = models.ForeignKey(Test, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["intake", "number"], name="intake_file_number_once")]
        indexes = [models.Index(fields=["intake", "state", "unit"], name="intake_file_waiting")]
