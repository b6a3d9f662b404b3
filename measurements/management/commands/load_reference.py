"""`manage.py load_reference`: bands, benchmarks, mixes, cores and conductors of fixtures/reference."""

from typing import Any

from django.core.management.base import BaseCommand

from measurements.services.reference import reference_files


class Command(BaseCommand):
    help = "Adds missing reference rows and brings those of the files up to date; removes none."

    def handle(self, *_args: Any, **options: Any) -> None:
        counts = reference_files.load_reference_data()
        if options["verbosity"]:
            self.stdout.write(", ".join(f"{count} {name}" for name, count in counts.items()))
