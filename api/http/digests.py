"""Content-Digest (RFC 9530): on what leaves, and checked on what comes in before anything is done with it."""

from __future__ import annotations

import base64
import binascii
import hashlib
import io
import re
from typing import Any

from rest_framework.request import Request

from measurements.errors import BenchnightError

ALGORITHMS = {"sha-256": hashlib.sha256, "sha-512": hashlib.sha512}
_MEMBER = re.compile(r"^\s*(?P<name>[a-z*][a-z0-9_.*-]*)=:(?P<value>[A-Za-z0-9+/]*={0,2}):\s*$", re.ASCII)
_PIECE = 64 * 1024
_WATCHED = "benchnight.hashed_body"


def compute_digest_field(content: bytes) -> str:
    """Return the header of these bytes."""
    return format_digest_field(hashlib.sha256(content).digest())


def format_digest_field(sha256: bytes) -> str:
    """Return the header of bytes whose SHA-256 is known."""
    return f"sha-256=:{base64.b64encode(sha256).decode('ascii')}:"


def check_digest(request: Request) -> None:
    """Read the whole body and compare it with the header, where there is one.

    The parsers hash the body while they read it (`hash_while_reading`).
    Raises BenchnightError `request.digest_malformed`, `request.digest_unknown`, `request.digest_mismatch`.
    """
    header = request.headers.get("Content-Digest")
    if header is None:
        return
    expected = _parse_digests(header)
    request.data  # noqa: B018  # reads the body, in whatever form it comes
    watched = request.META.get(_WATCHED) or HashedStream(io.BytesIO())  # no parser runs on an empty body
    while watched.read(_PIECE):  # a form's parser may leave an end unread
        pass
    for name, digest in expected.items():
        if watched.digests[name].digest() != digest:
            raise BenchnightError(
                "request.digest_mismatch",
                "What arrived is not what Content-Digest says it is. Nothing was stored; send it again.",
                field="Content-Digest",
            )


class HashedStream:
    """A stream that is hashed while it is read."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream
        self.digests = {name: make() for name, make in ALGORITHMS.items()}

    def read(self, *size: int) -> bytes:
        return self._taken(self._stream.read(*size))

    def readline(self, *size: int) -> bytes:
        return self._taken(self._stream.readline(*size))

    def close(self) -> None:
        self._stream.close()

    def _taken(self, data: bytes) -> bytes:
        for digest in self.digests.values():
            digest.update(data)
        return data


def hash_while_reading(request: Request, stream: Any) -> Any:
    """Wrap `stream` for a parser: a hashing stream where a digest came with it."""
    if "Content-Digest" not in request.headers:
        return stream
    watched = request.META[_WATCHED] = HashedStream(stream)
    return watched


def _parse_digests(header: str) -> dict[str, bytes]:
    """Return the digests of the algorithms known here; others are passed over, as the RFC says."""
    given: dict[str, bytes] = {}
    for part in header.split(","):
        found = _MEMBER.match(part)
        if found is None:
            raise _malformed_digest()
        try:
            given[found["name"]] = base64.b64decode(found["value"], validate=True)
        except binascii.Error as error:
            raise _malformed_digest() from error
    known = {name: digest for name, digest in given.items() if name in ALGORITHMS}
    if not known:
        raise BenchnightError(
            "request.digest_unknown",
            f"Content-Digest is checked by: {', '.join(ALGORITHMS)}. Send one of them, or no such header.",
            field="Content-Digest",
        )
    return known


def _malformed_digest() -> BenchnightError:
    return BenchnightError(
        "request.digest_malformed",
        "Send Content-Digest as: sha-256=:<base64 of the 32 bytes>:",
        field="Content-Digest",
    )
