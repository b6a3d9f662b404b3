"""Ends a session that was opened long ago, however much it is used, and keeps a used one from running out.

Unused, a session ends after SESSION_COOKIE_AGE: its row and cookie are renewed once a day at most, not by
every request. Used, it ends MOST after somebody signed in. deploy/SECURITY.md says why these.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from measurements.queries.signed_in import OPENED, RENEWED

MOST = timedelta(days=30)
RENEWED_AFTER = timedelta(days=1)


class SessionAgeMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # who brings no cookie has no session: a look into it would say that the reply depends on one
        if settings.SESSION_COOKIE_NAME in request.COOKIES and SESSION_KEY in request.session:
            now = timezone.now().timestamp()
            opened = request.session.setdefault(OPENED, now)
            if now - opened > MOST.total_seconds():
                logout(request)
            elif now - request.session.get(RENEWED, 0) > RENEWED_AFTER.total_seconds():
                request.session[RENEWED] = now
        return self.get_response(request)
