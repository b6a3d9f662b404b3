"""Asks another server over http or https, with limits; nothing here believes what comes back.

The standard library does it: a request in a minute needs no client library with sessions and retries.
"""

from __future__ import annotations

import http.client
import ipaddress
import json
import secrets
import urllib.error
import urllib.request
from collections.abc import Callable
from urllib.parse import urlsplit

from measurements.errors import BenchnightError

Post = Callable[[str, bytes], bytes]
Get = Callable[[str], bytes]

TIMEOUT_S = 60
MOST_REPLY_BYTES = 64 * 1024 * 1024
MOST_ADDRESS = 200
_POOL = "/api/v1/pool/"


def check_address(address: str) -> str:
    """Check the address of a server and give it without a trailing slash.

    https, or plain http to an address of a local network. Raises BenchnightError `pool.address`.
    """
    plain = address.strip().rstrip("/")
    parts = urlsplit(plain)
    try:
        host, port = parts.hostname or "", parts.port
    except ValueError:
        host, port = "", None
    secure = parts.scheme == "https" or (parts.scheme == "http" and _is_local(host))
    whole = not (parts.query or parts.fragment or parts.username or parts.password)
    if not (host and secure and whole) or len(plain) > MOST_ADDRESS or port == 0:
        raise BenchnightError(
            "pool.address",
            "This is no address of a keeper: it begins with https://, or with http:// on a local network.",
            field="address",
        )
    return plain


def _is_local(host: str) -> bool:
    if host == "localhost" or host.endswith(".local"):
        return True
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return False
    return address.is_private or address.is_loopback


def build_address(keeper: str, what: str) -> str:
    """Build the address of a part of the keeper's pool, such as `sendings`."""
    return f"{keeper}{_POOL}{what}/"


def build_file_address(source: str, *names: str) -> str:
    """Build the address of a file of a pooled release: on a keeper with a slash at the end, else plain."""
    joined = "/".join((source, *names))
    return f"{joined}/" if _POOL in joined else joined


def post(address: str, body: bytes) -> bytes:
    """Post an envelope as the file of a form (RFC 7578). Raises `pool.unreachable`, `pool.refused`."""
    edge = secrets.token_hex(16)
    head = (
        f'--{edge}\r\nContent-Disposition: form-data; name="message"; filename="message.json"\r\n'
        "Content-Type: application/json\r\n\r\n"
    )
    form = head.encode() + body + f"\r\n--{edge}--\r\n".encode()
    names = {"Content-Type": f"multipart/form-data; boundary={edge}", "Accept": "application/json"}
    return _ask(urllib.request.Request(check_address(address) + "/", form, names, method="POST"))  # noqa: S310


def get(address: str) -> bytes:
    """Get a file. Raises BenchnightError `pool.unreachable`, `pool.refused`."""
    checked = check_address(address) + ("/" if address.endswith("/") else "")
    return _ask(urllib.request.Request(checked, headers={"Accept": "*/*"}))  # noqa: S310


def _ask(request: urllib.request.Request) -> bytes:
    opener = urllib.request.build_opener(_NoRedirect())
    try:
        with opener.open(request, timeout=TIMEOUT_S) as reply:
            found: bytes = reply.read(MOST_REPLY_BYTES + 1)
    except urllib.error.HTTPError as error:
        with error:
            raise BenchnightError("pool.refused", _read_refusal(error), kind="conflict") from error
    except (OSError, http.client.HTTPException) as error:
        raise BenchnightError(
            "pool.unreachable", "The keeper cannot be reached now. Try again later.", kind="conflict"
        ) from error
    if len(found) > MOST_REPLY_BYTES:
        raise BenchnightError("pool.reply", "The keeper sent more than this server takes at once.")
    return found


def _read_refusal(error: urllib.error.HTTPError) -> str:
    """Read the sentence of a refusal (RFC 9457), shortened."""
    try:
        detail = json.loads(error.read(20_000))["detail"]
    except (ValueError, KeyError, TypeError, OSError):
        detail = ""
    said = " ".join(str(detail).split())[:200]
    return f"The keeper refused: {said}" if said else f"The keeper refused with status {error.code}."


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """Follow nothing: an address that was checked must not lead elsewhere."""

    def redirect_request(self, *_args: object, **_more: object) -> None:
        """Give no request in place of the redirected one."""
