"""Bundles between servers: trusted keys, persons and rows that came in them, and imports under way."""

from django.db import models

from measurements.models.accounts import Contributor, Member
from measurements.models.keys import new_key


class TrustedKey(models.Model):
    """The public key of another server, in hexadecimal: its bundles are taken."""

    key = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=64)
    added_at = models.DateTimeField(auto_now_add=True)


class BundlePerson(models.Model):
    """A person of another server and the contributor here.

    source: public key of that server. ref: its pseudonym of the person. confirmed_there: that server counts
    this person by an account or a steward's word; only then a steward here can confirm the guest.
    """

    source = models.CharField(max_length=64)
    ref = models.CharField(max_length=32)
    contributor = models.ForeignKey(Contributor, on_delete=models.CASCADE, related_name="bundle_persons")
    confirmed_there = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["source", "ref"], name="bundle_person_once")]


class BundleMark(models.Model):
    """How a row was when it last came in a bundle: tells which side edited it since.

    fields: name of a field -> starts of the SHA-256 of its value there and here. The mark outlives its row,
    so that a row that was deleted here does not come back. made_at: of the bundle, by that server's clock;
    taken_at: by the clock of this one.
    """

    source = models.CharField(max_length=64)
    table = models.CharField(max_length=16)
    key = models.CharField(max_length=64)
    fields = models.JSONField()
    made_at = models.DateTimeField()
    taken_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["source", "table", "key"], name="bundle_mark_once")]


class BundleImport(models.Model):
    """A bundle that was sent over the network, until a worker has shown or applied it.

    raw: emptied when it is done; of one that was only shown, when it is applied or after a day. outcome:
    counts, lines and what both sides edited. refusal: why nothing of it was taken.
    """

    class State(models.TextChoices):
        QUEUED = "queued"
        RUNNING = "running"
        DONE = "done"

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    made_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    apply = models.BooleanField(default=False)
    decisions = models.JSONField(default=dict)
    raw = models.BinaryField()
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    worker = models.CharField(max_length=64, blank=True)
    alive_until = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    outcome = models.JSONField(default=dict)
    refusal = models.TextField(blank=True)
