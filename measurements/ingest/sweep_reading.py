"""Reads what was uploaded, by role; a server may take fewer points than the reader does."""

from __future__ import annotations

from collections.abc import Mapping

from django.conf import settings

from measurements.errors import BenchnightError
from measurements.ingest.uploads import Upload
from measurements.rf import reading
from measurements.rf.sweep import Sweep


def by_role(uploads: Mapping[str, Upload]) -> dict[str, Sweep]:
    """Raises BenchnightError `sweep.*` naming the role and the line at fault."""
    return {role: _read(role, upload) for role, upload in uploads.items()}


def _read(role: str, upload: Upload) -> Sweep:
    sweep = reading.read(upload.data, upload.name, role=role)
    most = settings.BENCHNIGHT_SWEEP_POINTS
    if sweep.points > most:
        raise BenchnightError(
            "sweep.too_many_points",
            f"The sweep has {sweep.points} points; the limit is {most}. Sweep with fewer points.",
            kind="too_large",
            field=role,
        )
    return sweep
