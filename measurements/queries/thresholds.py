"""The disclosure thresholds in force, from the group's settings."""

from __future__ import annotations

from django.conf import settings

from measurements.disclosure.circles import Viewer, circle
from measurements.disclosure.thresholds import Thresholds


def current() -> Thresholds:
    """The group's thresholds."""
    return Thresholds(
        min_contributors=settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        public_min_contributors=settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        min_changes=settings.BENCHNIGHT_MIN_CHANGES,
    )


def least_contributors(viewer: Viewer) -> int:
    """Contributors that a design needs before this viewer sees anything of it."""
    thresholds = current()
    if circle(viewer) == "members":
        return thresholds.min_contributors
    return thresholds.public_min_contributors
