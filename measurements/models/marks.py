"""What a design's candidates looked like when a release last decided about it."""

from django.db import models

from measurements.models.designs import Design


class DecisionMark(models.Model):
    """Where nothing that a decision rests on has changed since, it need not be made again.

    mark: a fingerprint of the tests that could vote. action: what was decided.
    """

    design = models.OneToOneField(Design, on_delete=models.CASCADE, primary_key=True, related_name="mark")
    mark = models.CharField(max_length=96)
    action = models.CharField(max_length=8)
