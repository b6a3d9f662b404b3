"""What the bench view offers again for the next device: the last test and the resistors in use.

The same resistor lies on the bench all evening; it is kept in the operator's own session, per night.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest

from measurements.pages.bench import SETTINGS

SESSION_KEY = "bench"
NUMBERS = tuple(name for name, setting in SETTINGS.items() if setting.shape == "number")


def remember(request: HttpRequest, night: str, test: str, typed: Mapping[str, Any]) -> None:
    """Keeps the test's name and the numbers that were typed."""
    numbers = {**_kept(request, night), **{name: typed[name] for name in NUMBERS if name in typed}}
    request.session[SESSION_KEY] = {"night": night, "test": test, "typed": numbers}


def last_test(request: HttpRequest) -> str:
    """The procedure of the last test, empty before the first."""
    return str(request.session.get(SESSION_KEY, {}).get("test", ""))


def typed(request: HttpRequest, night: str) -> dict[str, str]:
    """The numbers of the last tests of this night."""
    return _kept(request, night)


def _kept(request: HttpRequest, night: str) -> dict[str, str]:
    kept = request.session.get(SESSION_KEY, {})
    return dict(kept.get("typed", {})) if kept.get("night") == night else {}
