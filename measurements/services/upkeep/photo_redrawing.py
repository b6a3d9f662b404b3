"""Draws a picture anew, so that only its pixels stay, in bounded memory.

Order matters: the size of the file, then its format, then the size that its header claims, and only then the
pixels. A picture of a few bytes can claim billions of pixels (a decompression bomb); it is refused unread.
"""

from __future__ import annotations

import io
import threading
import warnings
from dataclasses import dataclass

from PIL import Image, ImageOps, UnidentifiedImageError

from measurements.errors import BenchnightError

MOST_BYTES = 8 * 1024 * 1024  # fits into the 9 MiB that a server takes of one request
# a phone of today; a JPEG is decoded at half or a quarter of its size where that is enough
MOST_PIXELS_JPEG = 50_000_000
MOST_PIXELS = 25_000_000  # at most about 250 MB while one is being drawn anew, and one at a time
FULL_PX, SMALL_PX = 2000, 480  # the longer side
FORMATS = ("JPEG", "PNG", "WEBP")  # nothing else is even recognised
MEDIA_TYPE = "image/jpeg"
QUALITY = 85
BACKGROUND_RGB = (255, 255, 255)  # behind what is transparent


_ONE_AT_A_TIME = threading.Lock()  # of this process: what a picture needs for a moment, ten need at once


@dataclass(frozen=True)
class RedrawnPhoto:
    """A picture drawn anew, and a small one of it."""

    content: bytes
    small: bytes
    width_px: int
    height_px: int
    media_type: str = MEDIA_TYPE


def redraw_photo(data: bytes) -> RedrawnPhoto:
    """Return the picture as a JPEG without any of its metadata, upright as its camera meant it.

    Raises BenchnightError `photo.too_large`, `photo.format`, `photo.too_many_pixels`, `photo.unreadable`.
    """
    if len(data) > MOST_BYTES:
        raise BenchnightError(
            "photo.too_large",
            f"A picture has up to {MOST_BYTES // 1024 // 1024} MiB. Send a smaller one.",
            kind="too_large",
            field="photo",
        )
    with _ONE_AT_A_TIME:
        return _redraw(_read_pixels(data))


def _redraw(pixels: Image.Image) -> RedrawnPhoto:
    full = _shrink_to(pixels, FULL_PX)
    return RedrawnPhoto(_encode_jpeg(full), _encode_jpeg(_shrink_to(full, SMALL_PX)), *full.size)


def _shrink_to(image: Image.Image, side_px: int) -> Image.Image:
    """Return no longer than that on either side; a line of pixels keeps its one pixel of height."""
    longest = max(image.size)
    if longest <= side_px:
        return image
    width, height = (max(1, round(side * side_px / longest)) for side in image.size)
    return image.resize((width, height), Image.Resampling.BICUBIC)


def _read_pixels(data: bytes) -> Image.Image:
    """Return red, green and blue and nothing else."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit is lower
            warnings.simplefilter("ignore", UserWarning)  # of odd heads, which are not kept
            image = Image.open(io.BytesIO(data), formats=FORMATS)
    except (UnidentifiedImageError, Image.DecompressionBombError) as error:
        if isinstance(error, Image.DecompressionBombError):
            raise _build_too_many_error(MOST_PIXELS) from error
        raise BenchnightError(
            "photo.format", "This is no JPEG, PNG or WebP picture. Save it as one of these.", field="photo"
        ) from error
    except (OSError, ValueError, SyntaxError) as error:
        raise _build_unreadable_error() from error
    most = MOST_PIXELS_JPEG if image.format == "JPEG" else MOST_PIXELS
    if image.width * image.height > most:
        raise _build_too_many_error(most)
    try:
        if image.format == "JPEG":
            image.draft("RGB", (FULL_PX, FULL_PX))  # decodes at half or quarter size where that is enough
        image.load()
        return _copy_pixels(ImageOps.exif_transpose(image))
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError, Image.DecompressionBombError) as error:
        raise _build_unreadable_error() from error


def _copy_pixels(image: Image.Image) -> Image.Image:
    """Return a new picture with the same pixels on white ground: no chunk, profile or comment comes along."""
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        image = image.convert("RGBA")
        ground = Image.new("RGB", image.size, BACKGROUND_RGB)
        ground.paste(image, mask=image.getchannel("A"))
        return ground
    plain = Image.new("RGB", image.size)
    plain.paste(image.convert("RGB"))
    return plain


def _encode_jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _build_too_many_error(most: int) -> BenchnightError:
    return BenchnightError(
        "photo.too_many_pixels",
        f"A picture has up to {most // 1_000_000} million pixels. Send a smaller one.",
        kind="too_large",
        field="photo",
    )


def _build_unreadable_error() -> BenchnightError:
    return BenchnightError(
        "photo.unreadable", "This picture is damaged or incomplete. Send it again.", field="photo"
    )
