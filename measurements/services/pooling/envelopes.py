"""Signed envelopes between groups and keepers: gzipped JSON under the sender's Ed25519 key."""

from __future__ import annotations

import base64
import binascii
import gzip
import hashlib
import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError
from measurements.services.bundles import signing

MOST_BYTES = 64 * 1024 * 1024  # of an unpacked sending: some 80,000 votes
MOST_SMALL_BYTES = 64 * 1024  # of what joins or leaves

JOIN = b"benchnight pool join 1\n"
SENDING = b"benchnight pool sending 1\n"
REPLY = b"benchnight pool reply 1\n"
RELEASE = b"benchnight pool release 1\n"


@dataclass(frozen=True)
class Envelope:
    """An opened envelope: who signed it, what it says, and the SHA-256 of that."""

    key: str
    content: dict[str, Any]
    sha256: str


def seal(content: dict[str, Any], purpose: bytes) -> bytes:
    """Pack and sign content with this server's key."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    packed = gzip.compress(text.encode(), 6, mtime=0)
    sealed = {
        "key": signing.get_public_key(),
        "content": base64.b64encode(packed).decode(),
        "signature": signing.sign_bytes(packed, purpose).hex(),
    }
    return json.dumps(sealed).encode()


def open_envelope(
    sealed: bytes,
    purpose: bytes,
    *,
    key: str | None = None,
    is_heard: Callable[[str], bool] | None = None,
) -> Envelope:
    """Open an envelope and check its signature.

    key: the only signer that is believed; None: the one that it names. is_heard: whether a signer is heard
    at all, asked before anything is unpacked: a stranger's envelope stays packed.

    Raises BenchnightError `pool.envelope`, `pool.signature`, `pool.unknown_group`.
    """
    try:
        given = json.loads(sealed)
        packed = base64.b64decode(given["content"], validate=True)
        signature, signer = bytes.fromhex(given["signature"]), str(given["key"])
    except (ValueError, KeyError, TypeError, binascii.Error, RecursionError) as error:
        raise _build_damage_error() from error
    if key is not None and signer != key:
        raise BenchnightError(
            "pool.signature", "Another server signed this than the one whose key was given.", kind="conflict"
        )
    if not signing.KEY.fullmatch(signer) or not signing.is_signed(packed, signature, signer, purpose):
        raise BenchnightError("pool.signature", "The signature does not fit: nothing was taken.")
    if is_heard is not None and not is_heard(signer):
        raise build_stranger_error()
    text = _unpack(packed, MOST_SMALL_BYTES if purpose == JOIN else MOST_BYTES)
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise _build_damage_error() from error
    if not isinstance(content, dict):
        raise _build_damage_error()
    return Envelope(signer, content, hashlib.sha256(text).hexdigest())


def build_stranger_error() -> BenchnightError:
    """Build the refusal of a group that is not of the pool."""
    return BenchnightError("pool.unknown_group", "This group is not of the pool.", kind="forbidden")


def _unpack(packed: bytes, most_bytes: int) -> bytes:
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(packed)) as opened:
            text = opened.read(most_bytes + 1)
    except (OSError, EOFError, gzip.zlib.error) as error:
        raise _build_damage_error() from error
    if len(text) > most_bytes:
        raise BenchnightError("pool.envelope", "This is more than a pool takes at once.", kind="too_large")
    return text


def _build_damage_error() -> BenchnightError:
    return BenchnightError("pool.envelope", "This is no whole message between a group and its pool.")
