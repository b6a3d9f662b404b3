"""`manage.py bundle_key`: this server's public key, for `trust_key` on another one."""

import io
from argparse import ArgumentParser
from typing import Any

import segno
from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.bundles import signing


class Command(BaseCommand):
    help = "Prints this server's public key; the key pair is made at the first call."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--qr", action="store_true", help="also as a QR code for a phone's camera")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            key = signing.get_public_key()
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["qr"]:
            drawn = io.StringIO()
            segno.make(key).terminal(drawn, compact=True)
            self.stdout.write(drawn.getvalue())
        self.stdout.write(key)
