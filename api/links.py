"""Link headers (RFC 8288)."""

from __future__ import annotations

from django.http import HttpResponseBase


def add(response: HttpResponseBase, address: str, relation: str) -> None:
    """One more link. address: absolute, or from the root."""
    link = f'<{address}>; rel="{relation}"'
    before = response.get("Link")
    response["Link"] = f"{before}, {link}" if before else link
