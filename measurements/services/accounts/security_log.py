"""Lines about signing in and about refusals, for whoever looks into the server's log afterwards.

A line says when (the log does), what, why, where and who. Who is a mark: a keyed hash of the account's
name or of the client's address, the same in every line and telling neither; `manage.py mark` gives the
mark of a name or an address that one knows. Nothing that somebody typed and no secret is in a line.
"""

from __future__ import annotations

import logging

from django.utils.crypto import salted_hmac

from measurements.models import operations
from measurements.services.accounts import security_counts

logger = logging.getLogger("benchnight.security")
MARK_LENGTH = 12
NOBODY = "-"


def compute_mark(text: str) -> str:
    """Compute the mark of an account's name or of an address in the log."""
    if not text:
        return NOBODY
    return salted_hmac("measurements.watch", text.casefold(), algorithm="sha256").hexdigest()[:MARK_LENGTH]


def log_sign_in(*, way: str, account: str, address: str) -> None:
    """Log and count a sign-in. way: `password`, `link`, `token`; with `+second` where a factor followed."""
    security_counts.count_event(operations.SIGN_IN, way, account=account, mark=compute_mark(account))
    logger.info("sign_in.done way=%s account=%s from=%s", way, compute_mark(account), compute_mark(address))


def log_failed_sign_in(*, way: str, reason: str, account: str = "", address: str) -> None:
    """Log and count a refused sign-in. account: as it was typed, existing or not. reason: the code."""
    refused, mark = operations.SIGN_IN_REFUSED, compute_mark(account)
    security_counts.count_event(refused, way, account=account, mark=mark)
    logger.warning(
        "sign_in.refused way=%s reason=%s account=%s from=%s",
        way,
        reason,
        compute_mark(account),
        compute_mark(address),
    )


def log_refused_request(*, method: str, path: str, reason: str, account: str = "", address: str) -> None:
    """Log a refused request: not allowed, not theirs or not there, forged, too large, or beyond a limit.

    Those of accounts are counted too; a stranger's refusal costs no write.
    """
    if account:
        refused, mark = operations.REQUEST_REFUSED, compute_mark(account)
        security_counts.count_event(refused, reason, account=account, mark=mark)
    logger.warning(
        "request.refused reason=%s account=%s from=%s method=%s path=%s",
        reason,
        compute_mark(account),
        compute_mark(address),
        method,
        path,
    )
