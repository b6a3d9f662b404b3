"""`manage.py release`: makes the next evidence release, and learns from it what predictions rest on."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from measurements.services.pooling import after_release


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
            after_release.make_release_by_worker.enqueue()
            return
        both = after_release.make_release_and_send()
        made, sent = both.release, both.sending
        if options["verbosity"]:
            self.stdout.write(
                f"Release {made.number}: {made.replaced} designs changed, {made.kept} kept, "
                f"{made.withheld} withheld, {made.empty} without enough contributors"
            )
            if sent is not None:
                self.stdout.write(
                    f"Sent to the pool: {sent.new} new votes, {sent.withdrawn} withdrawn, "
                    f"{sent.unchanged} unchanged"
                )
