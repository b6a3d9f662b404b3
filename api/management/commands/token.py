"""`manage.py token NAME`: prints a new access token once, and nothing else on standard output."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.accounts import access_tokens


class Command(BaseCommand):
    help = "Prints a new API token of an account, once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the account's name")
        parser.add_argument("--days", type=int, default=90, help="how long it is valid (default 90)")
        parser.add_argument("--label", default="", help="what its owner recognises it by")
        parser.add_argument(
            "--scope",
            default=access_tokens.UPLOAD,
            choices=access_tokens.SCOPES,
            help="what it may do (default upload)",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            token = access_tokens.issue_token(
                **{name: options[name] for name in ("name", "days", "label", "scope")}
            )
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        self.stdout.write(token)
