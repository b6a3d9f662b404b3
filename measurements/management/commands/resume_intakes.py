"""`manage.py resume_intakes`: works on intakes whose worker died. A timer runs it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from measurements.services.intakes import intakes


class Command(BaseCommand):
    help = "Works off intakes of club nights whose worker died, or that nobody took up."

    def handle(self, *_args: Any, **options: Any) -> None:
        count = intakes.resume_stale_intakes(here=True)
        if options["verbosity"]:
            self.stdout.write(f"{count} intakes taken up")
