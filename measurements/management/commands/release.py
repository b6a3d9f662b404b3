"""`manage.py release`: makes the next evidence release, and learns from it what predictions rest on.

It comes regularly in every group, so old counts of uses are forgotten here as well as at a start.
"""

from typing import Any

from django.core.management.base import BaseCommand

from measurements.ingest import learning, release_files, releases, throttle


class Command(BaseCommand):
    help = "Makes the next evidence release: only from here do new tests reach the evidence."

    def handle(self, *_args: Any, **options: Any) -> None:
        made = releases.make(files=False)
        if options["verbosity"]:
            self.stdout.write(
                f"Release {made.number}: {made.replaced} designs changed, {made.kept} kept, "
                f"{made.withheld} withheld, {made.empty} without enough contributors"
            )
        release_files.complete()
        learning.learn()
        throttle.forget_old()
