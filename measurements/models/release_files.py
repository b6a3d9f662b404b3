"""The files of a release, made once and served as they are: in a table, so that a backup holds them."""

from django.db import models

from measurements.models.evidence import Release


class ReleaseFile(models.Model):
    """One file of one release for one circle ("public" or "members"); the bytes never change.

    content: None once evidence in it was withdrawn; name, size and hash stay, so that whoever kept a
    copy can still tell what it is.
    """

    release = models.ForeignKey(Release, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=32)
    circle = models.CharField(max_length=8)
    media_type = models.CharField(max_length=32)
    size = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["release", "name", "circle"], name="release_file_once"),
            models.CheckConstraint(
                condition=models.Q(circle__in=["public", "members"]), name="release_file_circle_known"
            ),
        ]
