"""What was learned from a release's evidence, kept so that a prediction does not learn again."""

from __future__ import annotations

from django.db import models


class Release(models.Model):
    """One numbered, immutable publication. `salt` makes the row ids of this release; it stays inside.

    usual_spreads: kind -> {"spread": in units of the metric or null, "learned_in": number of a release}, see
    `measurements.verdict.usual_spread`.
    """

    number = models.PositiveIntegerField(primary_key=True)
    made_at = models.DateTimeField()
    engine_version = models.CharField(max_length=16)
    region = models.PositiveSmallIntegerField()
    thresholds = models.JSONField()
    counts = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    salt = models.BinaryField()
    usual_spreads = models.JSONField(default=dict)


class LearnedModel(models.Model):
    """figures: see `measurements.rf.ferrites.learned_windings`; validation: leave-one-design-out figures.

    Made of released evidence only, for one circle ("public" or "members").
    """

    release = models.ForeignKey(Release, on_delete=models.CASCADE, related_name="learned")
    circle = models.CharField(max_length=8)
    engine_version = models.CharField(max_length=16)
    figures = models.JSONField()
    validation = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["release", "circle", "engine_version"], name="learned_once_per_release"
            )
        ]


# The files of a release, made once and served as they are: in tables, so that a backup holds them.


class ReleaseFile(models.Model):
    """One file of one release for one circle ("public" or "members"); the bytes never change.

    withdrawn: its parts are gone because evidence in it was withdrawn; name, size and hash stay, so that
    whoever kept a copy can still tell what it is.
    """

    release = models.ForeignKey(Release, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=32)
    circle = models.CharField(max_length=8)
    media_type = models.CharField(max_length=32)
    size = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["release", "name", "circle"], name="release_file_once"),
            models.CheckConstraint(
                condition=models.Q(circle__in=["public", "members"]), name="release_file_circle_known"
            ),
        ]


class ReleaseFilePart(models.Model):
    """A piece of a file, so that neither making nor serving one needs the memory for all of it.

    content: a gzip member of its own; unpacked and joined in the order of `number` they are the file.
    """

    file = models.ForeignKey(ReleaseFile, on_delete=models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField()
    content = models.BinaryField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["file", "number"], name="release_file_part_once")]
