"""`manage.py import_bundle FILE [--apply]`: what a bundle would change, or the change itself."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.bundles import imports
from measurements.services.bundles.import_run import Decisions


class Command(BaseCommand):
    help = "Shows what a bundle would change, line by line; with --apply does it, all or nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--apply", action="store_true", help="do it")
        parser.add_argument(
            "--same",
            action="append",
            default=[],
            metavar="THERE=HERE",
            help="the person THERE is the account HERE; may be repeated",
        )
        parser.add_argument(
            "--theirs", action="append", default=[], metavar="KEY", help="of this conflict take the bundle's"
        )
        parser.add_argument(
            "--ours", action="append", default=[], metavar="KEY", help="of this conflict keep this server's"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        same = dict(pair.partition("=")[::2] for pair in options["same"])
        if not all(same.values()):
            raise CommandError("Write --same as THERE=HERE: a name in the bundle, an account here.")
        decisions = Decisions(same, frozenset(options["theirs"]), frozenset(options["ours"]))
        try:
            with options["file"].open("rb") as file:
                outcome = imports.import_bundle(file, apply=options["apply"], decisions=decisions)
        except OSError as error:
            raise CommandError(f"{options['file']} cannot be read: {error.strerror}.") from error
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        for line in outcome.lines:
            self.stdout.write(line)
        if outcome.unlisted:
            self.stdout.write(f"and {outcome.unlisted} more lines")
        self.stdout.write(json.dumps(outcome.counts))
