"""How the description names the two ways to sign in."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension

TOKEN = "access_token"  # noqa: S105  # a name, not a secret
SESSION = "session"


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "api.http.authentication.TokenAuthentication"
    name = TOKEN

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "`Token` and a blank before the token: `Authorization: Token 0123abcd...`",
        }


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = "api.http.authentication.ReadOnlySessionAuthentication"
    name = SESSION

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": "session",
            "description": "The site's own sign-in, on GET only. Over TLS the cookie is `__Host-session`.",
        }
