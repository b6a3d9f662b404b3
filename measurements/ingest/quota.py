"""How much one contributor may store in all."""

from __future__ import annotations

from django.conf import settings
from django.db.models import Sum
from django.db.models.functions import Length

from measurements.errors import BenchnightError
from measurements.models import Contributor, DevicePhoto, SweepFile

_MEBIBYTE = 1024 * 1024


def check(contributor: Contributor, *, adding: int) -> None:
    """Refuses `adding` bytes that would not fit any more.

    Raises BenchnightError `upload.quota` that says how much there is and what to do.
    """
    stored = SweepFile.objects.filter(test__device__contributor=contributor)
    used = stored.aggregate(used=Sum(Length("raw")))["used"] or 0
    photos = DevicePhoto.objects.filter(device__contributor=contributor)
    used += photos.aggregate(used=Sum(Length("content") + Length("small")))["used"] or 0
    most = settings.BENCHNIGHT_MEMBER_BYTES
    if used + adding > most:
        raise BenchnightError(
            "upload.quota",
            f"An account stores up to {most / _MEBIBYTE:.0f} MiB of sweeps and pictures; "
            f"{used / _MEBIBYTE:.1f} MiB are used. Withdraw tests you no longer need, or ask a steward for "
            "more room.",
            kind="too_large",
        )
