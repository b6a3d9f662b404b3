"""`manage.py member NAME`: creates or changes an account and prints a one-time sign-in link."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from measurements.errors import BenchnightError
from measurements.services.accounts import accounts, second_factors


class Command(BaseCommand):
    help = "Creates an account, or gives one another role, and prints a link that signs in once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the account's name")
        parser.add_argument("--role", choices=["member", "operator", "steward"], help="new ones are members")

        parser.add_argument(
            "--remove-factors",
            action="store_true",
            help="take passkeys, app and recovery codes off the account, whose owner lost them",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            accounts.ensure_member(name=options["name"], role=options["role"])
            if options["remove_factors"]:
                second_factors.remove_all_factors(name=options["name"])
            secret = accounts.issue_sign_in_link(name=options["name"])
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        self.stdout.write(settings.BENCHNIGHT_SITE.rstrip("/") + reverse("pages:sign_in_link", args=[secret]))
