"""Gives the role that serves its rights on the tables, which another role owns (PostgreSQL)."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.operations import database_rights


class Command(BaseCommand):
    help = "Give the role of BENCHNIGHT_DATABASE_URL the rights that serving takes; after each migrate."

    def handle(self, *args: Any, **options: Any) -> None:
        role = settings.BENCHNIGHT_SERVICE_ROLE
        if not role:
            raise CommandError(
                "Set BENCHNIGHT_DATABASE_OWNER_URL to the role that owns the tables, see deploy/SETTINGS.md."
            )
        try:
            tables = database_rights.grant_rights(role)
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        self.stdout.write(f"{role} may read and write the rows of {tables} tables.")
