"""`manage.py restore FILE`: a backup into an empty database."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.operations import restore


class Command(BaseCommand):
    help = "Brings a backup into an empty, migrated database, all or nothing; sessions are not in it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--key", type=Path, metavar="FILE", help="of an encrypted backup: the file of its private key"
        )
        parser.add_argument(
            "--leave-out-unknown",
            action="store_true",
            help="of a backup of a newer version, pass over what this version does not know",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            done = restore.restore_backup(
                options["file"],
                key_file=options["key"],
                room=settings.BENCHNIGHT_VAR,
                leave_out_unknown=options["leave_out_unknown"],
            )
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["verbosity"]:
            self.stdout.write(f"{done.rows} rows of {done.tables} tables restored and compared")
            if done.unknown:
                self.stdout.write(f"Left out: {', '.join(done.unknown)}")
