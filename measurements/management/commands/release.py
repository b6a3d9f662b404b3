"""`manage.py release`: makes the next evidence release, and learns from it what predictions rest on."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from measurements.services.releases import releases


class Command(BaseCommand):
    help = "Makes the next evidence release: only from here do new tests reach the evidence."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--queue", action="store_true", help="hand it to a worker (manage.py db_worker) on any host"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["queue"]:
            if connection.vendor == "sqlite":
                raise CommandError("The embedded database has no workers: run it without --queue.")
            releases.make_release_by_worker.enqueue()
            return
        made = releases.make_complete_release()
        if options["verbosity"]:
            self.stdout.write(
                f"Release {made.number}: {made.replaced} designs changed, {made.kept} kept, "
                f"{made.withheld} withheld, {made.empty} without enough contributors"
            )
