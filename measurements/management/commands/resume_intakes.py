"""`manage.py resume_intakes`: works on intakes and bundles whose worker died. A timer runs it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from measurements.services.bundles import processing
from measurements.services.intakes import intakes


class Command(BaseCommand):
    help = "Works off intakes of club nights whose worker died, or that nobody took up."

    def handle(self, *_args: Any, **options: Any) -> None:
        count = intakes.resume_stale_intakes(here=True)
        bundles = processing.resume_stale_imports(here=True)
        if options["verbosity"]:
            self.stdout.write(f"{count} intakes and {bundles} bundles taken up")
