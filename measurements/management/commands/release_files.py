"""`manage.py release_files`: makes the files of the newest release where it has none."""

from typing import Any

from django.core.management.base import BaseCommand

from measurements.services.releases import release_files


class Command(BaseCommand):
    help = "Makes the files of the newest release where it was made before releases had files."

    def handle(self, *_args: Any, **options: Any) -> None:
        number = release_files.store_missing_release_files()
        if options["verbosity"]:
            said = "Nothing to do" if number is None else f"Made the files of release {number}"
            self.stdout.write(said)
