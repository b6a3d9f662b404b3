"""How the description names the ways to sign in."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension

BEARER = "bearer"
TOKEN = "access_token"  # noqa: S105  # a name, not a secret
SESSION = "session"

# every name that an operation's `security` may use; `description.complete_description` writes them out
SECURITY_SCHEMES: dict[str, dict[str, str]] = {
    BEARER: {
        "type": "http",
        "scheme": "bearer",
        "description": "An access token: `Authorization: Bearer 0123abcd...`. Your account's page makes one.",
    },
    TOKEN: {
        "type": "apiKey",
        "in": "header",
        "name": "Authorization",
        "description": "The same token in another spelling: `Authorization: Token 0123abcd...`.",
    },
    SESSION: {
        "type": "apiKey",
        "in": "cookie",
        "name": "session",
        "description": "The site's own sign-in, on GET only. Over TLS the cookie is `__Host-session`.",
    },
}


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "api.http.authentication.TokenAuthentication"
    name = TOKEN

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Describe the header to the generator."""
        return SECURITY_SCHEMES[TOKEN]


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = "api.http.authentication.ReadOnlySessionAuthentication"
    name = SESSION

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Describe the cookie to the generator."""
        return SECURITY_SCHEMES[SESSION]
