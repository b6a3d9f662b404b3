"""How much one contributor may store in all."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db.models import OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, Length

from measurements.errors import BenchnightError
from measurements.ingest import throttle
from measurements.models import Contributor, DevicePhoto, SweepFile

_KIBIBYTE = 1024
_MEBIBYTE = 1024 * _KIBIBYTE


# bytes of everything of the contributor that the query is about
_SWEEPS = (
    SweepFile.objects.filter(test__device__contributor=OuterRef("pk"))
    .values("test__device__contributor")
    .annotate(used=Sum(Length("raw")))
    .values("used")
)
_PHOTOS = (
    DevicePhoto.objects.filter(device__contributor=OuterRef("pk"))
    .values("device__contributor")
    .annotate(used=Sum(Length("content") + Length("small")))
    .values("used")
)


def _sum(stored: QuerySet[Any]) -> Coalesce:
    return Coalesce(Subquery(stored), 0)


def check(contributor: Contributor, *, adding: int) -> None:
    """Refuses `adding` bytes that would not fit any more.

    What is added in a day is counted up from what was stored when the day's first came; all is summed again
    only where that count, which knows of no withdrawal, is above the limit.
    Raises BenchnightError `upload.quota` that says how much there is and what to do.
    """
    most = settings.BENCHNIGHT_MEMBER_BYTES
    counted = throttle.add(_key(contributor), -(-adding // _KIBIBYTE), window_s=throttle.DAY_S)
    if counted is not None and counted * _KIBIBYTE <= most:
        return
    owner = Contributor.objects.filter(pk=contributor.pk)
    used = sum(owner.values_list(_sum(_SWEEPS), _sum(_PHOTOS)).get())
    if used + adding > most:
        raise BenchnightError(
            "upload.quota",
            f"An account stores up to {most / _MEBIBYTE:.0f} MiB of sweeps and pictures; "
            f"{used / _MEBIBYTE:.1f} MiB are used. Withdraw tests you no longer need, or ask a steward for "
            "more room.",
            kind="too_large",
        )
    throttle.put(_key(contributor), -(-(used + adding) // _KIBIBYTE), window_s=throttle.DAY_S)


def sum_again(contributor: Contributor) -> None:
    """What was counted of this contributor no longer holds: devices came from somebody else."""
    throttle.forget(_key(contributor))


def _key(contributor: Contributor) -> str:
    return f"stored:{contributor.pk}"
