"""Files that arrive with a form: put by at once, so that a fault elsewhere never costs a chosen file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.conf import settings
from django.http import HttpRequest

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import staging
from measurements.ingest.staging import Staged
from measurements.pages.bench import FileField
from measurements.pages.forms.upload import FileSlot

MEBIBYTE = 1024 * 1024


@dataclass(frozen=True)
class Received:
    """held: role -> what is kept of the file. faults: role -> why a file was not taken."""

    held: dict[str, Staged] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)

    def slots(self, files: Sequence[FileField]) -> list[FileSlot]:
        """The files as a form shows them."""
        return [
            FileSlot(
                each, self.held.get(each.role), [self.faults[each.role]] if each.role in self.faults else []
            )
            for each in files
        ]


def received(request: HttpRequest, viewer: Viewer, files: Sequence[FileField]) -> Received:
    """What came now for these files, else what was put by earlier (`held_<role>`)."""
    found = Received()
    for each in files:
        came = request.FILES.get(each.role)
        if came is not None:
            if (came.size or 0) > settings.BENCHNIGHT_SWEEP_BYTES:
                most = settings.BENCHNIGHT_SWEEP_BYTES // MEBIBYTE
                found.faults[each.role] = f"This file is larger than {most} MiB. Save fewer points."
                continue
            found.held[each.role] = staging.keep(
                by=viewer, role=each.role, name=came.name or "unnamed", data=came.read()
            )
        elif request.POST.get(f"held_{each.role}") and not request.POST.get(f"drop_{each.role}"):
            try:
                found.held[each.role] = staging.fetch(by=viewer, key=request.POST[f"held_{each.role}"])
            except BenchnightError as error:
                found.faults[each.role] = error.detail
    return found
