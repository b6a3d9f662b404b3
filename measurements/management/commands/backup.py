"""`manage.py backup FILE`: everything in one file, verified on writing."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.operations import backup, backup_encryption


class Command(BaseCommand):
    help = "Writes everything into one new file that only you can read, while the server goes on; verified."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--to",
            action="append",
            metavar="PUBLIC-KEY",
            help="encrypt it to this key (age1...), or to several; by default to BENCHNIGHT_BACKUP_KEYS",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        keys = options["to"] or settings.BENCHNIGHT_BACKUP_KEYS
        file: Path = options["file"]
        if keys and file.suffix != backup_encryption.SUFFIX:
            file = file.with_name(f"{file.name}{backup_encryption.SUFFIX}")
        try:
            made = backup.write_backup(file, public_keys=keys)
            backup.record_backup_time(settings.BENCHNIGHT_VAR)
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["verbosity"]:
            size = f"{made.size / 1e6:.1f} MB"
            self.stdout.write(
                f"{file}: {made.rows} rows of {made.tables} tables, {size}, verified"
                f"{', encrypted' if keys else ''}"
            )
