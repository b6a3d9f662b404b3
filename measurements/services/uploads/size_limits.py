"""How much one contributor may store in all."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.db.models import OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, Length

from measurements.errors import BenchnightError
from measurements.models import Contributor, DevicePhoto, SweepFile
from measurements.services.operations import use_counts

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


def _sum_bytes(stored: QuerySet[Any]) -> Coalesce:
    return Coalesce(Subquery(stored), 0)


def check_storage_room(contributor: Contributor, *, adding: int) -> None:
    """Refuse `adding` bytes that would not fit any more.

    What is added in a day is counted up from what was stored when the day's first came; all is summed again
    only where that count, which knows of no withdrawal, is above the limit.
    Raises BenchnightError `upload.quota` that says how much there is and what to do.
    """
    most = settings.BENCHNIGHT_MEMBER_BYTES
    counted = use_counts.add_to_count(
        _get_count_key(contributor), -(-adding // _KIBIBYTE), window_s=use_counts.DAY_S
    )
    if counted is not None and counted * _KIBIBYTE <= most:
        return
    owner = Contributor.objects.filter(pk=contributor.pk)
    used = sum(owner.values_list(_sum_bytes(_SWEEPS), _sum_bytes(_PHOTOS)).get())
    if used + adding > most:
        raise BenchnightError(
            "upload.quota",
            f"An account stores up to {most / _MEBIBYTE:.0f} MiB of sweeps and pictures; "
            f"{used / _MEBIBYTE:.1f} MiB are used. Withdraw tests you no longer need, or ask a steward for "
            "more room.",
            kind="too_large",
        )
    use_counts.set_count(
        _get_count_key(contributor), -(-(used + adding) // _KIBIBYTE), window_s=use_counts.DAY_S
    )


def reset_storage_count(contributor: Contributor) -> None:
    """Forget the counts of this contributor after devices came from somebody else."""
    use_counts.delete_counts(_get_count_key(contributor))


def _get_count_key(contributor: Contributor) -> str:
    return f"stored:{contributor.pk}"


# What to say of a request that Django itself refuses for its size: which limit, how to stay within it.

MEBIBYTE = 1024 * 1024

REQUEST_TOO_LARGE = (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent)


def describe_request_limit(exception: BaseException) -> str:
    """Return for one of `TOO_LARGE`."""
    if isinstance(exception, TooManyFieldsSent):
        return (
            f"A request has up to {settings.DATA_UPLOAD_MAX_NUMBER_FIELDS} fields or query words. "
            "Send it in parts."
        )
    if isinstance(exception, TooManyFilesSent):
        return f"A request has up to {settings.DATA_UPLOAD_MAX_NUMBER_FILES} files. Send them in parts."
    most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE / MEBIBYTE
    return f"Without its files a request has up to {most:g} MiB. Send less at once, and sweeps as files."


def describe_excess_of_json(declared_bytes: int) -> str | None:
    """Say that JSON is too large for an address where nothing large is meant; None where it is not."""
    most = settings.BENCHNIGHT_SMALL_JSON_BYTES
    if declared_bytes <= most:
        return None
    return f"This address takes up to {most / _KIBIBYTE:g} KiB of JSON. Send less at once."
