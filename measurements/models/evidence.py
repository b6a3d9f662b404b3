"""What a release published: no identity in any column, and no way back from a row to a person.

A release is the set of cells whose span of release numbers holds it, so that a release costs what
changed, not what exists. A cell is immutable but for `last_release`.
"""

from __future__ import annotations

import uuid

from django.db import models

from measurements.models.designs import Design


class Cell(models.Model):
    """One set of a design's published evidence, unchanged from `first_release` to `last_release` (null: on).

    band: empty for the set of the core bands, else the one band that this set is for
    (`measurements.disclosure.vote_sets`). bands: all that it covers; every device has a figure on each.
    worst_db: devices x bands little-endian float32, row order random; NaN where a device has no figure.
    persons: devices x little-endian uint16 in the order of `worst_db`, alike for devices of one person and
    otherwise random; empty in cells of older releases. one_jig: all figures come from one jig.
    curves: statistics of the curves, see `measurements.verdict.percentiles`; empty where too few.
    content_sha256: of all that the cell publishes, so that a release is hashed from its cells.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    design = models.ForeignKey(Design, on_delete=models.PROTECT, related_name="cells")
    band = models.CharField(max_length=8, default="", db_default="")
    first_release = models.PositiveIntegerField()
    last_release = models.PositiveIntegerField(null=True)
    devices = models.PositiveIntegerField()
    contributors = models.PositiveIntegerField()
    bands = models.JSONField()
    worst_db = models.BinaryField()
    persons = models.BinaryField(default=bytes)
    one_jig = models.BooleanField(default=False)
    curves = models.JSONField(default=dict)
    content_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["design", "band"], condition=models.Q(last_release=None), name="cell_one_open_per_set"
            )
        ]
        indexes = [models.Index(fields=["first_release", "last_release"], name="cell_span")]


class EvidenceSample(models.Model):
    """One device's vote in a cell, without anything of its owner.

    curve: G little-endian complex64 impedance on the fixed grid. figures, coverage: on every band of the
    cell, see `measurements.disclosure.published_figures`. One row per device, not per device and band: a
    release of a million tests would else be ten times the rows.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    cell = models.ForeignKey(Cell, on_delete=models.CASCADE, related_name="samples")
    month = models.CharField(max_length=7)
    method = models.CharField(max_length=16)
    self_resonance_hz = models.FloatField(null=True)
    inductance_h = models.FloatField(null=True)
    stray_capacitance_f = models.FloatField(null=True)
    curve = models.BinaryField()
    figures = models.BinaryField()
    coverage = models.CharField(max_length=64)
