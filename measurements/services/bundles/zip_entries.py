"""Refuses a hostile zip by its directory alone, before anything of it is unpacked."""

from __future__ import annotations

import os
import re
import stat
import struct
import zipfile
from typing import BinaryIO

from django.conf import settings

from measurements.errors import BenchnightError, Kind

MOST_ENTRIES = 20_000
MOST_UNPACKED_BYTES = 2 * 1024**3
LEAST_ROOM_BYTES = 1024 * 1024  # so much may come out of a small zip whatever its ratio
MEBIBYTE = 1024 * 1024
SEGMENT = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,127}")
_END = b"PK\x05\x06"  # end of central directory: APPNOTE.TXT 6.3.10 (PKWARE), section 4.3.16
_END_LENGTH = 22
_END_REACH = _END_LENGTH + 65535
_LOCATOR_64 = b"PK\x06\x07"
_MOST_ENTRY_HEADER = 200  # the longest name of a bundle has 97 characters


def check_directory(file: BinaryIO) -> int:
    """Refuse a directory too large to be read at all; answers the size of the file in bytes.

    Raises BenchnightError `bundle.broken`, `bundle.too_many_entries`.
    """
    size = file.seek(0, os.SEEK_END)
    file.seek(max(0, size - _END_REACH - 20))
    tail = file.read()
    file.seek(0)
    at = tail.rfind(_END)
    if at < 0 or len(tail) - at < _END_LENGTH:
        raise build_damage_error()
    while at >= 0:
        if len(tail) - at >= _END_LENGTH:
            entries, directory_bytes = struct.unpack_from("<HI", tail, at + 10)
            too_long = directory_bytes > MOST_ENTRIES * _MOST_ENTRY_HEADER
            if entries > MOST_ENTRIES or too_long or _LOCATOR_64 in tail[max(0, at - 20) : at]:
                raise _build_entries_error()
        at = tail.rfind(_END, 0, at)
    return size


def check_entries(listed: list[zipfile.ZipInfo], packed_bytes: int) -> dict[str, zipfile.ZipInfo]:
    """Return the files of the bag's folder by their path in it.

    Raises BenchnightError for a name, type or size that no bundle has.
    """
    if len(listed) > MOST_ENTRIES:
        raise _build_entries_error()
    room = min(MOST_UNPACKED_BYTES, settings.BENCHNIGHT_INTAKE_RATIO * packed_bytes + LEAST_ROOM_BYTES)
    found: dict[str, zipfile.ZipInfo] = {}
    folders, seen = set(), set()
    for entry in listed:
        folder, path = _parse_name(entry)
        folders.add(folder)
        if entry.filename.casefold() in seen:
            raise build_refusal("bundle.twice", f"{entry.filename[:80]!r} is in the zip twice.")
        seen.add(entry.filename.casefold())
        room -= max(0, entry.file_size)
        if room < 0:
            raise build_size_error()
        if path:
            found[path] = entry
    if len(folders) != 1:
        raise build_refusal("bundle.folders", "A bundle is one folder with one bag; this zip is not.")
    return found


def _parse_name(entry: zipfile.ZipInfo) -> tuple[str, str]:
    """Return folder and path below it; an empty path for a folder. Raises BenchnightError."""
    # what a packer knows nothing of has no type at all
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind == stat.S_IFLNK:
        raise build_refusal("bundle.link", f"{entry.filename[:80]!r} is a link. A bundle has none.")
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise build_refusal("bundle.special", f"{entry.filename[:80]!r} is no plain file.")
    if entry.flag_bits & 0x1:
        raise build_refusal("bundle.encrypted", "This zip is locked with a password. A bundle is not.")
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise build_refusal("bundle.method", f"{entry.filename[:80]!r} is packed in a way that is not taken.")
    # the library cuts a name at a zero byte: look at what the directory really says
    segments = entry.orig_filename.removesuffix("/").split("/")
    if not all(SEGMENT.fullmatch(segment) for segment in segments):
        raise build_refusal("bundle.path", f"{entry.orig_filename[:80]!r} leads out of the bundle's folder.")
    path = "" if entry.is_dir() else "/".join(segments[1:])
    if not path and not entry.is_dir():
        raise build_refusal("bundle.folders", "A bundle is one folder with one bag; this zip is not.")
    return segments[0], path


def build_refusal(code: str, detail: str, kind: Kind = "invalid") -> BenchnightError:
    """Build the error of a bundle of which nothing is taken."""
    return BenchnightError(code, detail, kind=kind, field="bundle")


def build_damage_error() -> BenchnightError:
    """Build the error of a file that is cut off, damaged or no zip."""
    return build_refusal("bundle.broken", "This file is damaged, cut off or no zip. Copy it again.")


def build_size_error() -> BenchnightError:
    """Build the error of a zip that unpacks to more than a bundle can."""
    return build_refusal(
        "bundle.too_large",
        f"This bundle unpacks to more than {MOST_UNPACKED_BYTES // MEBIBYTE:,} MiB, to more than "
        f"{settings.BENCHNIGHT_INTAKE_RATIO} times its own size, or holds a file that is too large.",
        "too_large",
    )


def _build_entries_error() -> BenchnightError:
    return build_refusal(
        "bundle.too_many_entries",
        f"A bundle has up to {MOST_ENTRIES:,} files; this zip says that it has more.",
        "too_large",
    )
