"""`manage.py backup_key FILE`: a pair of keys for encrypted backups."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.operations import backup_encryption


class Command(BaseCommand):
    help = "Writes a private key to FILE, for off the server, and prints its public key for the server."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            self.stdout.write(backup_encryption.write_key_pair(options["file"]))
        except BenchnightError as error:
            raise CommandError(error.detail) from error
