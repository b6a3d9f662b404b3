"""`manage.py judge_states`: judges the devices whose kept service state no longer holds. A timer runs it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from measurements.selectors.upkeep import kept_states
from measurements.services.upkeep import state_keeping


class Command(BaseCommand):
    help = "Judges devices of which something changed, or a date passed, and keeps their service states."

    def handle(self, *_args: Any, **options: Any) -> None:
        count = state_keeping.keep_waiting_states(kept_states.judge_waiting_devices)
        if options["verbosity"]:
            self.stdout.write(f"{count} devices judged")
