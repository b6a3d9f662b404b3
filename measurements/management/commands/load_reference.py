"""`manage.py load_reference`: bands, benchmarks, mixes, cores and conductors of fixtures/reference."""

from typing import Any

from django.core.management.base import BaseCommand

from measurements.ingest import reference


class Command(BaseCommand):
    help = "Adds missing reference rows and brings those of the files up to date; removes none."

    def handle(self, *_args: Any, **options: Any) -> None:
        counts = reference.load()
        if options["verbosity"]:
            self.stdout.write(", ".join(f"{count} {name}" for name, count in counts.items()))
