"""Tables of the plain service."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Design(models.Model):
    """What devices share."""

    key = models.CharField(max_length=12, unique=True)
    title = models.CharField(max_length=200)
    recipe = models.JSONField(default=dict)


class Device(models.Model):
    """One choke of somebody."""

    key = models.CharField(max_length=12, unique=True)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE)
    design = models.ForeignKey(Design, on_delete=models.CASCADE)


class Test(models.Model):
    """One sweep, as it came, with the figures computed from it.

    bands: {band: {figure: number}}. curve: lists of numbers, for a chart.
    """

    __test__ = False

    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="tests")
    kind = models.CharField(max_length=16)
    calibrated = models.BooleanField()
    measured_on = models.DateField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    sweep_sha256 = models.CharField(max_length=64, db_index=True)


class Sweep(models.Model):
    """The bytes of a test's file."""

    test = models.OneToOneField(Test, on_delete=models.CASCADE, related_name="sweep")
    name = models.CharField(max_length=255)
    raw = models.BinaryField()


class Result(models.Model):
    """Figures per band, and one curve as JSON."""

    test = models.OneToOneField(Test, on_delete=models.CASCADE, related_name="result")
    bands = models.JSONField()
    curve = models.JSONField()
