"""`manage.py learn`: learns mixes and windings from the newest release, for members and for the public."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from measurements.errors import BenchnightError
from measurements.services.releases import learning


class Command(BaseCommand):
    help = "Learns from the newest release what predictions rest on; `release` does this too."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--if-missing", action="store_true", help="Only where nothing was learned yet.")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            taught = learning.learn_missing_models() if options["if_missing"] else learning.learn_models()
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        for each in taught if options["verbosity"] else ():
            self.stdout.write(
                f"Release {each.release}, {each.circle}: learned from {each.designs} designs, "
                f"{each.devices} devices"
            )
