"""`manage.py export_bundle (--night KEY | --member NAME | --all) FILE`: a bundle for another server."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.bundles import exports


class Command(BaseCommand):
    help = "Writes a night, a member or everything into one new file, signed with this server's key."

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--night", metavar="KEY", help="a club night with its devices and tests")
        what.add_argument("--member", metavar="NAME", help="all that an account owns")
        what.add_argument("--all", action="store_true", help="every night, device and test")
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            if options["night"]:
                scope = exports.select_night(options["night"], by=None)
            elif options["member"]:
                scope = exports.select_member(options["member"])
            else:
                scope = exports.select_all()
            made = exports.export_to_file(scope, options["file"])
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["verbosity"]:
            self.stdout.write(f"{options['file']}: {made.rows} rows, {made.files} files, signed")
