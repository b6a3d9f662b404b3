"""Who is asking: an access token on any request, or the site's own sign-in on reading ones.

The session is for reading only, so that links on the site's pages work in a browser. Writes need a
token, which no other site can make a browser send; so the door needs no CSRF check.
"""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from knox.crypto import hash_token
from rest_framework.authentication import BaseAuthentication, SessionAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request

from api.models import AccessToken
from measurements.services.accounts import second_factors, security_log
from measurements.services.operations import disk_room

MOST_TOKEN_BYTES = 256
SCHEMES = ("Token", "Bearer")  # one meaning; RFC 6750 names the second


class UnknownScheme(AuthenticationFailed):
    """An Authorization header of another scheme, or of none; the public's answer would pass it over."""


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Token <token>` or `Bearer <token>`, found by its hash in one read.

    Any other Authorization header is refused, so that no client takes the public's answer for its own. The
    token library's own class deletes expired tokens while it reads, fails on bytes that are not UTF-8 and
    passes other schemes over.
    """

    def authenticate(self, request: Request) -> tuple[Any, AccessToken] | None:
        """Find who sent the header; None without one. Raises UnknownScheme, AuthenticationFailed."""
        if "HTTP_AUTHORIZATION" not in request.META:
            return None
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() not in {scheme.lower().encode() for scheme in SCHEMES}:
            raise UnknownScheme
        if len(parts) != 2:
            raise AuthenticationFailed
        return _find_account(parts[1])

    def authenticate_header(self, request: Request) -> str:
        """Name the schemes for WWW-Authenticate (RFC 9110, 11.6.1)."""
        return ", ".join(SCHEMES)


def _find_account(token: bytes) -> tuple[Any, AccessToken]:
    if len(token) > MOST_TOKEN_BYTES or not token.isascii():
        raise AuthenticationFailed
    digest = hash_token(token.decode("ascii"))
    found = AccessToken.objects.select_related("user").filter(digest=digest).first()
    if found is None or (found.expiry is not None and found.expiry <= timezone.now()):
        raise AuthenticationFailed
    if not found.user.is_active:
        raise AuthenticationFailed
    _record_last_use(found)
    return found.user, found


def can_write(token: AccessToken | None) -> bool:
    """Say whether what authenticated a request may store anything; a session never reaches a write."""
    return token is not None and token.scope == AccessToken.Scope.UPLOAD


def _record_last_use(token: AccessToken) -> None:
    """Note the day of its last use, once a day: its owner sees the tokens that nothing uses any more."""
    today = timezone.localdate()
    if token.last_used_on != today:
        with disk_room.ignore_full_disk():
            AccessToken.objects.filter(pk=token.pk).update(last_used_on=today)
        token.last_used_on = today
        security_log.log_sign_in(way="token", account=token.user.get_username(), address="")


class ReadOnlySessionAuthentication(SessionAuthentication):
    """The site's sign-in cookie, on GET and HEAD only; one that waits for its second factor is nobody's."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        if request.method not in SAFE_METHODS:
            return None
        found = super().authenticate(request)
        if found is not None and second_factors.is_session_waiting(request.session, found[0].role):
            return None
        return found
