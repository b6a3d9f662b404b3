"""The table of access tokens, by its name in the settings.

The REST library's token model is in `api`, which this package may not import; like Django's own model
of users it is named in the settings and looked up there, so that both doors write it through `services`.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.conf import settings


def get_token_manager() -> Any:
    """Return the manager of the table. Its `create(user, expiry, label=, scope=)` answers (row, token)."""
    return apps.get_model(settings.KNOX_TOKEN_MODEL)._default_manager
