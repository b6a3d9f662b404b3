"""What a design's candidates looked like when a release last decided about it, and what has changed since.

`EvidenceChange` and `MovedDevice` are written by triggers (migration 0012), so that no way of writing passes
them by. SQLite loses a table's triggers when a migration alters it: see `migrations/_evidence_triggers.py`.
"""

from django.db import models

from measurements.models.designs import Design


class DecisionMark(models.Model):
    """Where nothing that a decision rests on has changed since, it need not be made again.

    mark: a fingerprint of the tests that could vote. action: what was decided.
    """

    design = models.OneToOneField(Design, on_delete=models.CASCADE, primary_key=True, related_name="mark")
    mark = models.CharField(max_length=96)
    action = models.CharField(max_length=8)


class EvidenceChange(models.Model):
    """Something that decisions about a design rest on has changed; the next release takes the row.

    design_id, device_id: of which design, or of the design of which device; plain numbers, because what they
    lead to may be gone. test_key: a test that may be gone. A row with none of these: look at everything.
    """

    design_id = models.BigIntegerField(null=True)
    device_id = models.BigIntegerField(null=True)
    test_key = models.CharField(max_length=12, blank=True)


class MovedDevice(models.Model):
    """A device that was moved to another design: designs that published tests of it share a past."""

    device_key = models.CharField(max_length=12)
