"""The Django application of the measurement database."""

from django.apps import AppConfig


class MeasurementsConfig(AppConfig):
    """Tables of the label `measurements`; integer keys inside, random keys outside."""

    name = "measurements"
    default_auto_field = "django.db.models.BigAutoField"
