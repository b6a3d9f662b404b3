"""Django's registration of the REST door."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """Holds access tokens and kept replies; everything else belongs to `measurements`."""

    name = "api"
    verbose_name = "REST API"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Make the ways to sign in known to the description."""
        from api.schema import sign_in_schemes  # noqa: F401  # registers itself
