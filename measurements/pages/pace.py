"""How often somebody may have something computed on a page; the API counts under limits of the same size."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import throttle

MINUTE_S = 60


def keep(request: HttpRequest, viewer: Viewer) -> None:
    """Counts one computation. Nobody's address is stored: an anonymous reader is a keyed hash of it.

    Raises BenchnightError `limit.computing` beyond the limit.
    """
    if viewer.signed_in:
        who, limit = f"account:{viewer.member_id}", settings.BENCHNIGHT_TOKEN_PER_MINUTE
    else:
        address = request.META.get("REMOTE_ADDR", "")
        who = salted_hmac("pages.pace", address, algorithm="sha256").hexdigest()[:32]
        limit = settings.BENCHNIGHT_ANALYSE_PER_MINUTE
    allowance = throttle.take(f"computing:{who}", limit=limit, window_s=MINUTE_S)
    if not allowance.allowed:
        raise BenchnightError(
            "limit.computing",
            f"This can be computed {allowance.limit} times a minute. Wait {allowance.reset_s} seconds.",
            kind="too_many",
            wait_s=allowance.reset_s,
        )
