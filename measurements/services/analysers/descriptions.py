"""From the analyser that a test names to the description that its budget takes.

A test stores the description as it was then, beside the key, so that it stays reproducible when the analyser
is described anew or forgotten.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import DescribedAnalyser, Night
from measurements.services.uploads.uploads import TestSettings


def resolve_analyser(by: Viewer, settings: TestSettings, night: Night | None = None) -> TestSettings:
    """Return the settings with the description in place of a key; on a night its analyser where none is
    named.

    Raises BenchnightError `analyser.not_found` for a key of somebody else or of nobody.
    """
    if settings.analyser is not None:
        return settings
    if settings.analyser_key is not None:
        found = get_own_analyser(by, settings.analyser_key)
        return replace(settings, analyser=found.description)
    if night is None or night.analyser_id is None:
        return settings
    found = DescribedAnalyser.objects.get(pk=night.analyser_id)
    return replace(settings, analyser=found.description, analyser_key=found.key)


def get_own_analyser(by: Viewer, key: str, field: str = "analyser") -> DescribedAnalyser:
    """Return an analyser of the viewer's own. Raises BenchnightError `analyser.not_found`."""
    found = None
    if by.member_id is not None:
        found = DescribedAnalyser.objects.filter(member_id=by.member_id, key=key).first()
    if found is None:
        raise BenchnightError(
            "analyser.not_found",
            "You have described no analyser with this key.",
            kind="not_found",
            field=field,
        )
    return found


def build_description(stated: dict[str, Any]) -> dict[str, Any]:
    """Return the stated fields that are known, as a description."""
    return {name: value for name, value in stated.items() if value is not None}
