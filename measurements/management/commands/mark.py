"""`manage.py mark NAME` prints the mark of an account or an address in the server's log."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from measurements.services.accounts import security_log


class Command(BaseCommand):
    help = "Prints the mark that the server's log has in place of an account's name or a client's address."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("text", metavar="NAME-OR-ADDRESS")

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(security_log.compute_mark(options["text"]))
