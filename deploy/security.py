"""The content policy for browsers, the flags of cookies, and the secret key of the embedded run."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from deploy import private_files

YEAR_S = 365 * 24 * 3600

# Every script, style, font and picture comes from this machine; nothing inline, nothing evaluated.
CONTENT_SECURITY_POLICY: dict[str, Any] = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "object-src": [NONE],
    }
}

# The fastest hasher that is still memory-hard comes first; the others read what an older run stored.
PASSWORD_HASHERS = [
    "measurements.services.accounts.password_hashing.BoundedArgon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]


# how far the promise of https reaches: this host, every host below it, and the lists inside browsers
HSTS_SCOPES = ("host", "subdomains", "preload")


def build_transport_settings(*, tls: bool, proxies: int, hsts: str) -> dict[str, Any]:
    """Return settings that depend on whether browsers reach the site over TLS.

    Over TLS cookies carry the `__Host-` prefix, so that no sibling host can plant one. hsts: of HSTS_SCOPES.
    """
    prefix = "__Host-" if tls else ""
    chosen: dict[str, Any] = {
        "SESSION_COOKIE_NAME": f"{prefix}session",
        "CSRF_COOKIE_NAME": f"{prefix}csrf",
        "BENCHNIGHT_LOOK_COOKIE": f"{prefix}look",
        "SESSION_COOKIE_SECURE": tls,
        "CSRF_COOKIE_SECURE": tls,
        "SECURE_SSL_REDIRECT": tls,
        "SECURE_HSTS_SECONDS": YEAR_S if tls else 0,
        "SECURE_HSTS_INCLUDE_SUBDOMAINS": tls and hsts != "host",
        "SECURE_HSTS_PRELOAD": tls and hsts == "preload",
        # Django warns where HSTS leaves other hosts of the domain alone; a club's web site may be one of them
        "SILENCED_SYSTEM_CHECKS": ["security.W005", "security.W021"],
        # a program that sends its token in the clear is refused by the API, or it would not notice;
        # a load balancer asks for the health page without TLS, a monitor on this machine for the figures
        "SECURE_REDIRECT_EXEMPT": [r"^healthz$", r"^metrics$", r"^api/"],
    }
    if tls and proxies:
        chosen["SECURE_PROXY_SSL_HEADER"] = ("HTTP_X_FORWARDED_PROTO", "https")
    return chosen


def load_secret_key(given: str, *, is_embedded: bool, var: Path) -> str:
    """Return the key given, or for the embedded database one that is made once and kept under `var`.

    Raises ImproperlyConfigured when another database is used and no key is given: two servers that
    each made their own key could not read each other's sign-in cookies.
    """
    if given:
        return given
    if not is_embedded:
        raise ImproperlyConfigured(
            "BENCHNIGHT_SECRET_KEY is required with BENCHNIGHT_DATABASE_URL: "
            "set it to 50 or more random characters and keep it the same on every server."
        )
    path = var / "secret_key"
    private_files.make_private_directory(var)
    _write_once(path, secrets.token_urlsafe(64))
    return path.read_text(encoding="ascii").strip()


def _write_once(path: Path, text: str) -> None:
    """Make `path`, readable by its owner only, unless it exists; two starts at once leave one key."""
    if path.exists():
        return
    draft = path.with_name(f".{path.name}.{os.getpid()}.{secrets.token_hex(4)}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(text + "\n")
        try:
            os.link(draft, path)
        except FileExistsError:
            return
    finally:
        draft.unlink()
