"""Finds the address that a request came from when proxies stand in front.

Each trusted proxy appends the address it saw to X-Forwarded-For, so with N proxies the N-th entry
from the right was written by the outermost one; whatever stands further left may be invented by
the client. Without proxies the header is ignored. Throttles read REMOTE_ADDR.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse


class ClientAddressMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        proxies = settings.BENCHNIGHT_PROXIES
        if proxies:
            seen = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
            if len(seen) >= proxies and is_address(seen[-proxies].strip()):
                request.META["REMOTE_ADDR"] = seen[-proxies].strip()
        return self.get_response(request)


def is_address(text: str) -> bool:
    """Whether `text` is an IPv4 or IPv6 address and nothing else."""
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
