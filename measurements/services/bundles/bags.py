"""Writes and reads a bundle's file: a zip that holds one bag (BagIt 1.0, RFC 8493), signed.

The signature (`signature.json`) covers the tag manifest, that the payload manifest, and that every file
of the payload. No entry's own word on its size is believed, and nothing is unpacked
to a disk. Plain files only: no links, passwords, archives within, nor packing other than stored and deflated.
"""

from __future__ import annotations

import hashlib
import json
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import BinaryIO

from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.services.bundles import signing, zip_entries
from measurements.services.bundles.zip_entries import build_refusal

FOLDER = "benchnight-bundle"
BAGIT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
MANIFEST, TAG_MANIFEST, SIGNATURE = "manifest-sha256.txt", "tagmanifest-sha256.txt", "signature.json"
TAG_FILES = ("bagit.txt", "bag-info.txt", MANIFEST)
MOST_TAG_BYTES = 16 * 1024 * 1024
MOST_ROWS_BYTES = 256 * 1024 * 1024
MOST_FILE_BYTES = 16 * 1024 * 1024
# what the standard library raises over damaged archives
DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    NotImplementedError,
    ValueError,
    IndexError,
    KeyError,
)


def write_bag(out: BinaryIO, payload: Iterable[tuple[str, bytes]], description: str) -> int:
    """Write a signed bag of the payload (paths under `data/`); answers how many files it has.

    Raises BenchnightError `bundle.too_many_files` where a reader would refuse it.
    """
    hashes: dict[str, str] = {}
    octets = 0
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for path, content in payload:
            if len(hashes) >= zip_entries.MOST_ENTRIES - len(TAG_FILES) - 2:
                raise BenchnightError(
                    "bundle.too_many_files",
                    f"A bundle holds up to {zip_entries.MOST_ENTRIES} files. Export night by night.",
                    kind="too_large",
                )
            _put(archive, path, content)
            hashes[path] = hashlib.sha256(content).hexdigest()
            octets += len(content)
        info = (
            f"Bag-Software-Agent: Benchnight\nBagging-Date: {timezone.now():%Y-%m-%d}\n"
            f"External-Description: {description}\nPayload-Oxum: {octets}.{len(hashes)}\n"
        )
        tags = {
            "bagit.txt": BAGIT,
            "bag-info.txt": info.encode(),
            MANIFEST: _format_manifest(hashes),
        }
        tag_manifest = _format_manifest({name: hashlib.sha256(tags[name]).hexdigest() for name in tags})
        signature = {
            "algorithm": "Ed25519",
            "covers": TAG_MANIFEST,
            "public_key": signing.get_public_key(),
            "signature": signing.sign_bytes(tag_manifest).hex(),
        }
        tags[TAG_MANIFEST] = tag_manifest
        tags[SIGNATURE] = json.dumps(signature, indent=1).encode() + b"\n"
        for path, content in tags.items():
            _put(archive, path, content)
    return len(hashes)


@dataclass(frozen=True)
class Bag:
    """A bag that was verified whole. source: public key of its server; signer: the name given to that key."""

    archive: zipfile.ZipFile
    entries: dict[str, zipfile.ZipInfo]
    hashes: dict[str, str]
    source: str
    signer: str

    def read(self, path: str) -> bytes:
        """Return a file of the payload, hashed again. Raises BenchnightError `bundle.missing`, `.changed`."""
        if path not in self.hashes:
            raise build_refusal("bundle.missing", f"The bundle has no {path[:80]}. Export it again.")
        most = MOST_ROWS_BYTES if path.startswith("data/rows/") else MOST_FILE_BYTES
        content = _read_entry(self.archive, self.entries[path], most)
        if hashlib.sha256(content).hexdigest() != self.hashes[path]:
            raise _build_changed_error(path)
        return content


@contextmanager
def open_bag(file: BinaryIO) -> Iterator[Bag]:
    """Open a bundle of a trusted key and verify every file of it.

    Raises BenchnightError `bundle.*` with a sentence for whatever is wrong with it.
    """
    packed_bytes = zip_entries.check_directory(file)
    try:
        archive = zipfile.ZipFile(file)
    except DAMAGE as error:
        raise zip_entries.build_damage_error() from error
    with archive:
        entries = zip_entries.check_entries(archive.infolist(), packed_bytes)
        yield _verify(archive, entries)


def _verify(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo]) -> Bag:
    if "bagit.txt" not in entries or _read_tag(archive, entries, "bagit.txt") != BAGIT:
        raise build_refusal("bundle.not_a_bag", "This zip is no bundle: it is no bag of BagIt 1.0.")
    if "fetch.txt" in entries:
        raise build_refusal("bundle.fetch", "This bundle wants files from elsewhere. Export it whole.")
    source, tag_manifest = _check_signature(archive, entries)
    tags = _parse_manifest(tag_manifest)
    for name in TAG_FILES:
        content = _read_tag(archive, entries, name)
        if tags.get(name) != hashlib.sha256(content).hexdigest():
            raise _build_changed_error(name)
    hashes = _parse_manifest(_read_tag(archive, entries, MANIFEST))
    held = set(entries) - {*TAG_FILES, TAG_MANIFEST, SIGNATURE}
    for path in sorted(set(hashes) - held):
        raise build_refusal("bundle.missing", f"{path[:80]} is missing from the bundle. Copy it again.")
    for path in sorted(held - set(hashes)):
        raise build_refusal("bundle.extra", f"{path[:80]} was added to the bundle after it was signed.")
    bag = Bag(archive, entries, hashes, source, signing.get_trusted_name(source) or "")
    for path in hashes:
        bag.read(path)
    return bag


def _check_signature(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo]) -> tuple[str, bytes]:
    """Return the signer's key and the tag manifest that it signed."""
    if SIGNATURE not in entries or TAG_MANIFEST not in entries:
        raise build_refusal("bundle.unsigned", "This bundle is not signed, so nobody answers for it.")
    tag_manifest = _read_tag(archive, entries, TAG_MANIFEST)
    try:
        given = json.loads(_read_tag(archive, entries, SIGNATURE))
        source, signature = str(given["public_key"]), bytes.fromhex(given["signature"])
        known = given["algorithm"] == "Ed25519" and signing.KEY.fullmatch(source)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise _build_signature_error() from error
    if not known:
        raise _build_signature_error()
    if signing.get_trusted_name(source) is None:
        raise build_refusal(
            "bundle.foreign",
            f"This bundle is signed with a key that this server does not trust ({source[:16]}...). "
            "Compare the whole key with the other server's `manage.py bundle_key`, then run "
            "`manage.py trust_key`.",
        )
    if not signing.is_signed(tag_manifest, signature, source):
        raise build_refusal(
            "bundle.signature", "The signature does not fit: the bundle was changed after it was signed."
        )
    return source, tag_manifest


def _build_signature_error() -> BenchnightError:
    return build_refusal("bundle.unsigned", "The signature of this bundle cannot be read. Export it again.")


def _build_changed_error(path: str) -> BenchnightError:
    return build_refusal("bundle.changed", f"{path[:80]} was changed after the bundle was signed.")


def _format_manifest(hashes: dict[str, str]) -> bytes:
    return "".join(f"{digest}  {path}\n" for path, digest in hashes.items()).encode()


def _parse_manifest(content: bytes) -> dict[str, str]:
    found: dict[str, str] = {}
    for line in content.decode("utf-8", errors="replace").splitlines():
        digest, _, path = line.partition("  ")
        if len(digest) != 64 or not path or path in found:
            raise build_refusal(
                "bundle.manifest", "A manifest of this bundle cannot be read. Export it again."
            )
        found[path] = digest
    return found


def _put(archive: zipfile.ZipFile, path: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(f"{FOLDER}/{path}", date_time=timezone.now().timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = (stat.S_IFREG | 0o600) << 16
    archive.writestr(entry, content)


def _read_tag(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo], name: str) -> bytes:
    if name not in entries:
        raise build_refusal("bundle.missing", f"{name} is missing from the bundle. Copy it again.")
    return _read_entry(archive, entries[name], MOST_TAG_BYTES)


def _read_entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int) -> bytes:
    """Read at most `most` bytes of an entry, whatever its header says. Raises BenchnightError."""
    try:
        with archive.open(entry) as packed:
            content = packed.read(most + 1)
    except DAMAGE as error:
        raise zip_entries.build_damage_error() from error
    if len(content) > most:
        raise zip_entries.build_size_error()
    return content
