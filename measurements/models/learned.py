"""What was learned from a release's evidence, kept so that a prediction does not learn again."""

from django.db import models

from measurements.models.evidence import Release


class LearnedModel(models.Model):
    """figures: see `measurements.rf.learned`; validation: leave-one-design-out figures.

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
