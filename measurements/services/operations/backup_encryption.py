"""Encrypts backups to public keys in the format age (age-encryption.org/v1), opens them with a private one.

The server holds public keys alone, so whoever takes a backup from it cannot read it. The cryptography is the
library's (pyrage): X25519, ChaCha20-Poly1305 in pieces, so that nothing is held in memory whole.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

import pyrage

from measurements.errors import BenchnightError

FIRST_LINE = b"age-encryption.org/v1\n"
SUFFIX = ".age"


class _Tally:
    """A writer that keeps the SHA-256 of what it is given, and nothing else."""

    def __init__(self) -> None:
        self.digest = hashlib.sha256()

    def write(self, piece: bytes) -> int:
        self.digest.update(piece)
        return len(piece)

    def flush(self) -> None:
        """Do nothing: nothing waits."""


def parse_public_keys(texts: Iterable[str]) -> list[pyrage.x25519.Recipient]:
    """Parse the keys. Raises BenchnightError `backup.public_key` naming the one that is none."""
    found = []
    for text in texts:
        try:
            found.append(pyrage.x25519.Recipient.from_str(text.strip()))
        except pyrage.RecipientError as error:
            raise BenchnightError(
                "backup.public_key",
                f"{text.strip()[:80]!r} is no public key: one begins with age1. Make a pair with "
                "manage.py backup_key, on another machine than the server.",
            ) from error
    return found


def encrypt_backup(plain: Path, encrypted: Path, recipients: Sequence[pyrage.x25519.Recipient]) -> None:
    """Encrypt `plain` into `encrypted` and read that again, compared by SHA-256.

    Reading it again takes a key: one more pair is made for that alone and forgotten.
    Raises BenchnightError `backup.damaged`.
    """
    once = pyrage.x25519.Identity.generate()
    handle = os.open(encrypted, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with plain.open("rb") as source, os.fdopen(handle, "wb") as target:
        pyrage.encrypt_io(source, target, [*recipients, once.to_public()])
        target.flush()
        os.fsync(target.fileno())
    again = _Tally()
    with encrypted.open("rb") as source:
        pyrage.decrypt_io(source, again, [once])
    with plain.open("rb") as source:
        if hashlib.file_digest(source, "sha256").digest() != again.digest.digest():
            raise BenchnightError("backup.damaged", "The encrypted backup does not read as it was written.")


def is_encrypted(file: Path) -> bool:
    """Tell whether the file begins as the format does. Raises BenchnightError `backup.not_one`."""
    try:
        with file.open("rb") as opened:
            return opened.read(len(FIRST_LINE)) == FIRST_LINE
    except OSError as error:
        raise BenchnightError("backup.not_one", f"{file.name} cannot be read: {error.strerror}.") from error


@contextmanager
def open_backup(file: Path, key_file: Path | None, *, room: Path) -> Iterator[Path]:
    """Open a plain backup: the file itself, or what its private key makes of it, deleted on leaving.

    key_file: with a line that begins with AGE-SECRET-KEY-. room: the directory to decrypt in.
    Raises BenchnightError `backup.encrypted`, `backup.private_key`, `backup.wrong_key`, `backup.damaged`.
    """
    if not is_encrypted(file):
        yield file
        return
    if key_file is None:
        raise BenchnightError(
            "backup.encrypted", f"{file.name} is encrypted. Give its private key: --key FILE-OF-THE-KEY"
        )
    identity = _read_private_key(key_file)
    room.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, plain = tempfile.mkstemp(dir=room, prefix=".restoring.")
    try:
        with os.fdopen(handle, "wb") as target:
            _decrypt(file, target, identity)
        yield Path(plain)
    finally:
        Path(plain).unlink(missing_ok=True)


def _decrypt(file: Path, target: BinaryIO, identity: pyrage.x25519.Identity) -> None:
    try:
        with file.open("rb") as source:
            pyrage.decrypt_io(source, target, [identity])
    except pyrage.DecryptError as error:
        raise BenchnightError(
            "backup.wrong_key", f"{file.name} was not encrypted to this key. Take the other half of its pair."
        ) from error
    except OSError as error:
        raise BenchnightError(
            "backup.damaged", f"{file.name} does not decrypt whole, or there is no room for it. Take another."
        ) from error


def _read_private_key(key_file: Path) -> pyrage.x25519.Identity:
    try:
        lines = key_file.read_text(encoding="ascii").splitlines()
        return pyrage.x25519.Identity.from_str(next(line for line in lines if line.startswith("AGE-SECRET")))
    except (OSError, UnicodeDecodeError, StopIteration, pyrage.IdentityError) as error:
        raise BenchnightError(
            "backup.private_key",
            f"{key_file.name} holds no private key: a line that begins with AGE-SECRET-KEY-.",
        ) from error


def write_key_pair(file: Path) -> str:
    """Write a new private key to `file`, readable by its owner alone; answer its public key.

    Raises BenchnightError `backup.exists`, `backup.place`.
    """
    identity = pyrage.x25519.Identity.generate()
    public = str(identity.to_public())
    try:
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError as error:
        raise BenchnightError("backup.exists", f"There is a {file.name} already.", kind="conflict") from error
    except OSError as error:
        raise BenchnightError("backup.place", f"{file} cannot be written: {error.strerror}.") from error
    with os.fdopen(handle, "w", encoding="ascii") as opened:
        opened.write(f"# public key: {public}\n{identity}\n")
    return public
