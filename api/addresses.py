"""Absolute addresses of this door.

Not the framework's own function: that one copies the `?format=` of the request into every address.
"""

from __future__ import annotations

from django.urls import reverse
from rest_framework.request import Request


def absolute(request: Request, name: str, *keys: str) -> str:
    """Where the view `name` is, as the client reaches this server."""
    address: str = request.build_absolute_uri(reverse(f"api:{name}", args=keys))
    return address
