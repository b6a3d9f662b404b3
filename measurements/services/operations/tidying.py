"""Removes what is over: nothing here is read again, and some of it leads to people.

What has no end of its own stays: tests, devices, releases, the log, claim codes nobody used yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Q
from django.utils import timezone

from measurements.models import SignInLink, StagedUpload, token_table
from measurements.services.operations import use_counts

# its owner sees on the page of tokens that it is over, and since when, before it goes
TOKENS_SHOWN_FOR = timedelta(days=30)


@dataclass(frozen=True)
class TidyCounts:
    """How many of each went."""

    counts_of_uses: int
    staged_files: int
    sign_in_links: int
    tokens: int


def delete_expired_rows() -> TidyCounts:
    """Count of a day ago, staged files and links past their time, links that were used, tokens long over."""
    now = timezone.now()
    links = SignInLink.objects.filter(Q(expires_at__lte=now) | Q(used_at__isnull=False))
    return TidyCounts(
        counts_of_uses=use_counts.delete_old_counts(),
        staged_files=StagedUpload.objects.filter(expires_at__lte=now).delete()[0],
        sign_in_links=links.delete()[0],
        tokens=token_table.get_token_manager().filter(expiry__lte=now - TOKENS_SHOWN_FOR).delete()[0],
    )
