"""Pictures made in memory; one with everything that a phone writes beside the pixels."""

from __future__ import annotations

import io
import struct
import zlib

from PIL import Image, PngImagePlugin

CANARY = "quagga-photo-4711"


def picture(form: str = "JPEG", size: tuple[int, int] = (80, 40), mode: str = "RGB") -> bytes:
    out = io.BytesIO()
    Image.new(mode, size, 120 if mode == "L" else (200, 30, 30, 90)[: len(mode)]).save(out, form)
    return out.getvalue()


def with_everything(orientation: int = 1) -> bytes:
    """A JPEG, left half red and right half blue, with place, time, maker, comment and profile."""
    image = Image.new("RGB", (80, 40), (255, 0, 0))
    image.paste((0, 0, 255), (40, 0, 80, 40))
    exif = Image.Exif()
    exif[0x010F] = CANARY  # maker
    exif[0x0131] = CANARY  # software
    exif[0x0112] = orientation
    exif[0x0132] = "2026:05:04 21:14:33"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (47.0, 22.0, 8.25)
    gps[3], gps[4] = "E", (8.0, 32.0, 30.5)
    gps[29] = CANARY
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, comment=CANARY.encode(), icc_profile=CANARY.encode() * 8, quality=95)
    return out.getvalue()


def png_with_text() -> bytes:
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", CANARY)
    info.add_itxt("Place", CANARY)
    out = io.BytesIO()
    Image.new("RGB", (30, 30), (0, 90, 0)).save(out, "PNG", pnginfo=info)
    return out.getvalue()


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header claims that size (PNG specification, IHDR)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
