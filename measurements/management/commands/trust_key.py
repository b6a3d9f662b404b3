"""`manage.py trust_key KEY --name TEXT`: bundles of another server are taken from now on."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.bundles import signing

MOST_KEY_FILE_BYTES = 1024


class Command(BaseCommand):
    help = "Trusts the bundles of another server. Compare the whole key with that server's `bundle_key`."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "key", metavar="KEY", help="what `manage.py bundle_key` prints there, or a file of it"
        )
        parser.add_argument("--name", required=True, metavar="TEXT", help="what to call the other server")

    def handle(self, *_args: Any, **options: Any) -> None:
        given, file = options["key"], Path(options["key"])
        if not signing.KEY.fullmatch(given) and file.is_file():
            with file.open("rb") as opened:
                given = opened.read(MOST_KEY_FILE_BYTES).decode("ascii", errors="replace")
        try:
            created = signing.trust_key(key=given, name=options["name"])
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["verbosity"]:
            self.stdout.write("Trusted." if created else "This key was trusted already; the name is set.")
