"""Stewards look at flagged tests: mark them as seen, leave one out of evidence, take it back in.

An excluded test stays its owner's: they see why, and may withdraw it. It is in nothing published from the
next release, and comes back with a later one, as the disclosure rule allows.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Test
from measurements.services.operations import audit


def mark_test_reviewed(*, by: Viewer, test: str) -> None:
    """Take a test from the queue: a steward has looked at what was flagged and left it as it is."""
    _update_test(by, test, "test.review", reviewed_at=timezone.now())


def exclude_test(*, by: Viewer, test: str, reason: str) -> None:
    """Leave a test out of evidence. reason: what its owner reads.

    Raises BenchnightError `test.reason`, `test.excluded_already`, `test.not_found`.
    """
    policy.check_steward(by)
    plain = audit.parse_justification(
        reason, "reason", "test.reason", "Say why, so that its owner can mend it."
    )
    now = timezone.now()
    _update_test(
        by,
        test,
        "test.exclude",
        only_if={"excluded_reason": ""},
        refused="test.excluded_already",
        excluded_reason=plain,
        excluded_at=now,
        reviewed_at=now,
    )


def include_test(*, by: Viewer, test: str) -> None:
    """Take an excluded test back in. Raises BenchnightError `test.included_already`, `test.not_found`."""
    policy.check_steward(by)
    _update_test(
        by,
        test,
        "test.include",
        only_if={"excluded_at__isnull": False},
        refused="test.included_already",
        excluded_reason="",
        excluded_at=None,
        reviewed_at=timezone.now(),
    )


def _update_test(
    by: Viewer,
    key: str,
    action: str,
    *,
    only_if: dict[str, object] | None = None,
    refused: str = "",
    **fields: str | datetime | None,
) -> None:
    """Decide in one conditional UPDATE: the second of two concurrent decisions gets a conflict."""
    policy.check_steward(by)
    with transaction.atomic():
        if not Test.objects.filter(key=key, **(only_if or {})).update(**fields):
            if not Test.objects.filter(key=key).exists():
                raise policy.build_not_found("test")
            raise BenchnightError(
                refused, "Another steward decided about this test meanwhile; look again.", kind="conflict"
            )
        # what was written is the owner's to read, not the log's
        audit.record_action(by=by, action=action, subject=key)
