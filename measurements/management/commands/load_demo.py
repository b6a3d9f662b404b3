"""`manage.py load_demo`: the demo scenario of fixtures/demo; what is there already is left as it is."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.services.demo import demo


class Command(BaseCommand):
    help = "Adds an invented group with designs, devices and tests; repeating it changes nothing."

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            loaded = demo.load_demo()
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["verbosity"]:
            self.stdout.write(
                f"Added {loaded.members} members, {loaded.designs} designs, {loaded.devices} devices and "
                f"{loaded.tests} tests (all invented)"
            )
