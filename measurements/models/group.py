"""The group's own settings as values, for the rooms that read and write; no table stands behind them."""

from __future__ import annotations

from django.conf import settings

from measurements.disclosure.thresholds import Thresholds


def thresholds() -> Thresholds:
    """The disclosure thresholds in force."""
    return Thresholds(
        min_contributors=settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        public_min_contributors=settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        min_changes=settings.BENCHNIGHT_MIN_CHANGES,
    )


def region() -> int:
    """The ITU region whose band plan counts here."""
    return int(settings.BENCHNIGHT_REGION)


def terms() -> tuple[str, str]:
    """The group's name, and under which terms its data may be passed on (empty: it has not said)."""
    return settings.BENCHNIGHT_GROUP_NAME, settings.BENCHNIGHT_DATA_TERMS
