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

    Nothing of it leaves as it is stored: `measurements.disclosure` rounds what each circle may see.

    kind: of the tests behind it, see `measurements.verdict.judged_kinds`.
    band: empty for the set of the core bands, else the one band that this set is for
    (`measurements.disclosure.vote_sets`). bands: all that it covers; every device has a figure on each.
    worst_db: devices x bands little-endian float32, row order random; NaN where a device has no figure. Of
    load_match it is the SWR. It stays inside: aggregates are made of it, no row of it is shown.
    persons: devices x little-endian uint16 in the order of `worst_db`, alike for devices of one person and
    otherwise random. one_jig: all figures come from one jig.
    spread_curves: up to 12 curves (complex64 on the grid) in random order, frozen with the cell, so that a
    model learned again learns of the same votes how builds spread; they stay inside.
    curves: exact statistics of the curves, see `measurements.verdict.percentiles`; empty where too few.
    content_sha256: of all that the cell publishes, so that a release is hashed from its cells.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    design = models.ForeignKey(Design, on_delete=models.PROTECT, related_name="cells")
    kind = models.CharField(max_length=16, default="common_mode", db_default="common_mode")
    band = models.CharField(max_length=8, default="", db_default="")
    first_release = models.PositiveIntegerField()
    last_release = models.PositiveIntegerField(null=True)
    devices = models.PositiveIntegerField()
    contributors = models.PositiveIntegerField()
    bands = models.JSONField()
    worst_db = models.BinaryField()
    persons = models.BinaryField(default=bytes)
    one_jig = models.BooleanField(default=False)
    spread_curves = models.BinaryField(default=bytes)
    curves = models.JSONField(default=dict)
    content_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["design", "kind", "band"],
                condition=models.Q(last_release=None),
                name="cell_one_open_per_set",
            )
        ]
        indexes = [models.Index(fields=["first_release", "last_release"], name="cell_span")]
