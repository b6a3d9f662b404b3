"""Takes a zip of sweeps apart in memory, counting what really comes out of it.

Nothing is written to a disk and no entry's own word on its size is believed. Plain files only: no folders,
links, encryption or archives within; stored or deflated.
"""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib

from django.conf import settings

from measurements.errors import BenchnightError
from measurements.services.uploads.uploads import Upload

MANIFEST = "manifest.csv"
MEBIBYTE = 1024 * 1024
_CHUNK = 64 * 1024
_END = b"PK\x05\x06"  # end of central directory: APPNOTE.TXT 6.3.10 (PKWARE), section 4.3.16
_END_LENGTH = 22
_END_REACH = _END_LENGTH + 65535
_LOCATOR_64 = b"PK\x06\x07"
_LOCATOR_64_LENGTH = 20
_MOST_ENTRY_HEADER = 1024  # of one entry in the directory; a name and a few extra fields need far less
_ARCHIVES = (b"PK\x03\x04", b"PK\x05\x06", b"\x1f\x8b", b"7z\xbc\xaf\x27\x1c", b"Rar!", b"BZh", b"\xfd7zXZ")
# what the standard library raises over damaged archives, found by changing single bytes
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    NotImplementedError,
    ValueError,
    IndexError,
)
# signs of a system's own, not of a person's sweeps
_CLUTTER = ("__MACOSX/", ".DS_Store", "Thumbs.db", "desktop.ini")


def unpack_zip(archive: Upload) -> tuple[tuple[Upload, ...], bytes | None]:
    """Return the files of a zip in its order, and its manifest.csv apart (None where there is none).

    Raises BenchnightError `zip.*` that says which limit was met.
    """
    _check_directory(archive.data)
    try:
        with zipfile.ZipFile(io.BytesIO(archive.data)) as opened:
            return _read_all(opened, len(archive.data))
    except _DAMAGE as error:
        raise _build_refusal("zip.broken", "This zip is damaged or not a zip. Make it again.") from error


def _check_directory(data: bytes) -> None:
    """Refuse a directory too large to be read at all: reading it makes an object per entry."""
    start = max(0, len(data) - _END_REACH)
    at = data.find(_END, start)
    if at < 0:
        raise _build_refusal("zip.broken", "This zip is damaged or not a zip. Make it again.")
    while at >= 0:
        if len(data) - at >= _END_LENGTH:
            entries, size = struct.unpack_from("<HI", data, at + 10)
            most = settings.BENCHNIGHT_INTAKE_ENTRIES
            if entries > most + 1 or size > (most + 1) * _MOST_ENTRY_HEADER:
                raise _build_too_many_error()
            if data.startswith(_LOCATOR_64, max(0, at - _LOCATOR_64_LENGTH)):
                raise _build_too_many_error()
        at = data.find(_END, at + 1)


def _read_all(opened: zipfile.ZipFile, packed_bytes: int) -> tuple[tuple[Upload, ...], bytes | None]:
    entries = [entry for entry in opened.infolist() if not entry.filename.startswith(_CLUTTER)]
    _check_entries(entries)
    room = settings.BENCHNIGHT_INTAKE_UNPACKED_BYTES
    by_ratio = settings.BENCHNIGHT_INTAKE_RATIO * packed_bytes
    refusal = _build_ratio_error() if by_ratio < room else _build_room_error()
    left = min(room, by_ratio)
    files: list[Upload] = []
    manifest: bytes | None = None
    for entry in entries:
        data = _read(opened, entry, left, refusal)
        left -= len(data)
        if entry.filename.lower() == MANIFEST:
            manifest = data
        else:
            files.append(Upload(entry.filename, data))
    return tuple(files), manifest


def _check_entries(entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > settings.BENCHNIGHT_INTAKE_ENTRIES + 1:  # the manifest is one more
        raise _build_too_many_error()
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename
        if name in ("", ".", "..") or "/" in name or "\\" in name or entry.is_dir():
            raise _build_refusal(
                "zip.folders",
                f"{name[:80]!r} is a folder or in one. Zip the files themselves, not their folder.",
            )
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise _build_refusal("zip.link", f"{name[:80]!r} is a link. Zip the file that it points to.")
        # what a packer knows nothing of has no type at all
        if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG):
            raise _build_refusal("zip.special", f"{name[:80]!r} is no plain file. Zip the sweeps only.")
        if entry.flag_bits & 0x1:
            raise _build_refusal("zip.encrypted", "This zip is locked with a password. Make one without.")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _build_refusal(
                "zip.method",
                f"{name[:80]!r} is packed in a way that is not taken. Make a plain zip (deflate).",
            )
        if name.casefold() in seen:
            raise _build_refusal("zip.twice", f"{name[:80]!r} is in the zip twice.")
        seen.add(name.casefold())


def _read(opened: zipfile.ZipFile, entry: zipfile.ZipInfo, left: int, refusal: BenchnightError) -> bytes:
    """Return one entry, at most as long as a sweep may be and as the archive may unpack to (else
    `refusal`).
    """
    most = settings.BENCHNIGHT_SWEEP_BYTES
    out = io.BytesIO()
    with opened.open(entry) as packed:
        while chunk := packed.read(_CHUNK):
            out.write(chunk)
            if out.tell() > most:
                raise _build_too_large_error(
                    f"{entry.filename[:80]!r} is larger than a file may be ({most / MEBIBYTE:g} MiB). "
                    "Sweep with fewer points."
                )
            if out.tell() > left:
                raise refusal
    data = out.getvalue()
    if data.startswith(_ARCHIVES):
        raise _build_refusal(
            "zip.nested", f"{entry.filename[:80]!r} is itself an archive. Zip its files directly."
        )
    return data


def _build_too_many_error() -> BenchnightError:
    return BenchnightError(
        "zip.too_many",
        f"A zip may hold {settings.BENCHNIGHT_INTAKE_ENTRIES} files and a manifest. Send it in parts.",
        kind="too_large",
        field="archive",
    )


def _build_room_error() -> BenchnightError:
    most = settings.BENCHNIGHT_INTAKE_UNPACKED_BYTES / MEBIBYTE
    return _build_too_large_error(f"This zip unpacks to more than {most:g} MiB. Send fewer files at once.")


def _build_ratio_error() -> BenchnightError:
    most = settings.BENCHNIGHT_INTAKE_RATIO
    return _build_too_large_error(
        f"This zip unpacks to more than {most} times its own size, which sweeps do not. "
        "Send the files without a zip, or stored in it without compression."
    )


def _build_too_large_error(detail: str) -> BenchnightError:
    return BenchnightError("zip.too_large", detail, kind="too_large", field="archive")


def _build_refusal(code: str, detail: str) -> BenchnightError:
    return BenchnightError(code, detail, field="archive")
