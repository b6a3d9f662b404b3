"""`manage.py recompute`: brings stored results up to the current engine version; old rows stay."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from measurements.rf.analysis import ENGINE_VERSION
from measurements.services.tests import recomputation


class Command(BaseCommand):
    help = "Computes every test whose newest result is of an older engine; may be interrupted and repeated."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--workers", type=int, default=1, metavar="N", help="processes that compute (1)")
        parser.add_argument(
            "--queue", action="store_true", help="hand it to the workers (manage.py db_worker) on all hosts"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["workers"] < 1:
            raise CommandError("--workers takes 1 or more.")
        if options["queue"]:
            self._queue(options["verbosity"])
            return
        done = recomputation.recompute_stale_tests(workers=options["workers"])
        if options["verbosity"]:
            self.stdout.write(f"{done} tests computed by engine {ENGINE_VERSION}")

    def _queue(self, verbosity: int) -> None:
        if connection.vendor == "sqlite":
            raise CommandError("The embedded database has no workers: run it without --queue.")
        portions = recomputation.enqueue_recomputation()
        if verbosity:
            self.stdout.write(f"{portions} portions handed to the workers")
