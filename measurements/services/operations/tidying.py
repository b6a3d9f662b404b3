"""Removes what is over: nothing here is read again, and some of it leads to people.

What has no end of its own stays: tests, devices, releases, the log, claim codes nobody used yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Q
from django.utils import timezone

from measurements.models import BundleImport, SignInLink, StagedUpload, token_table
from measurements.services.operations import use_counts

# its owner sees on the page of tokens that it is over, and since when, before it goes
TOKENS_SHOWN_FOR = timedelta(days=30)
# a person decides about a bundle that was shown without sending it again
BUNDLES_KEPT_FOR = timedelta(hours=24)


@dataclass(frozen=True)
class TidyCounts:
    """How many of each went."""

    counts_of_uses: int
    staged_files: int
    sign_in_links: int
    tokens: int
    shown_bundles: int


def delete_expired_rows() -> TidyCounts:
    """Remove counts of a day ago, staged files and links past their time, used links, tokens long over.

    Of bundles that were only shown the bytes go after a day; what was shown stays.
    """
    now = timezone.now()
    links = SignInLink.objects.filter(Q(expires_at__lte=now) | Q(used_at__isnull=False))
    shown = BundleImport.objects.filter(apply=False, finished_at__lte=now - BUNDLES_KEPT_FOR)
    return TidyCounts(
        counts_of_uses=use_counts.delete_old_counts(),
        staged_files=StagedUpload.objects.filter(expires_at__lte=now).delete()[0],
        sign_in_links=links.delete()[0],
        tokens=token_table.get_token_manager().filter(expiry__lte=now - TOKENS_SHOWN_FOR).delete()[0],
        shown_bundles=shown.exclude(raw=b"").update(raw=b""),
    )
