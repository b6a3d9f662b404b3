"""`manage.py tidy`: removes what is over. A timer runs it once a day, and each start of deploy/run.

It is in this room because stored replies are, which the rooms below do not know.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand

from api.http import idempotency
from measurements.services.operations import tidying


class Command(BaseCommand):
    help = "Removes sessions, links, tokens, staged files, kept replies and counts of uses that are over."

    def handle(self, *_args: Any, **options: Any) -> None:
        gone = {**asdict(tidying.delete_expired_rows()), "kept_replies": idempotency.delete_expired_replies()}
        call_command("clearsessions", verbosity=0)
        if options["verbosity"]:
            said = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in gone.items())
            self.stdout.write(f"Removed what is over: {said}, and sessions")
