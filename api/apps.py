"""Django's registration of the REST door."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "api"
    verbose_name = "REST API"
