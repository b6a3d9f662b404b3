"""Pictures of devices, for whoever may see the device."""

from __future__ import annotations

from typing import Literal

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import DevicePhoto
from measurements.selectors.devices import devices
from measurements.selectors.upkeep.rows import PhotoRow

PhotoSize = Literal["small", "full"]


def list_photos(viewer: Viewer, device: str) -> tuple[PhotoRow, ...]:
    """Return its pictures, the oldest first. Raises BenchnightError `device.not_found`."""
    devices.get_device(viewer, device)
    rows = DevicePhoto.objects.filter(device__key=device).select_related("device")
    return tuple(_photo_row(row) for row in rows.defer("content", "small").order_by("pk"))


def get_photo(viewer: Viewer, key: str) -> PhotoRow:
    """Return a picture. Raises BenchnightError `photo.not_found`."""
    return _photo_row(_find_visible_photo(viewer, key, without=("content", "small")))


def get_photo_content(viewer: Viewer, key: str, size: PhotoSize) -> tuple[bytes, str]:
    """Return bytes and media type. Raises BenchnightError `photo.not_found`."""
    row = _find_visible_photo(viewer, key, without=("content",) if size == "small" else ("small",))
    return bytes(row.small if size == "small" else row.content), row.media_type


def _find_visible_photo(viewer: Viewer, key: str, *, without: tuple[str, ...]) -> DevicePhoto:
    row = DevicePhoto.objects.select_related("device").defer(*without).filter(key=key).first()
    missing = BenchnightError("photo.not_found", "There is no such picture of yours.", kind="not_found")
    if row is None:
        raise missing
    try:
        devices.get_device(viewer, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return row


def _photo_row(row: DevicePhoto) -> PhotoRow:
    return PhotoRow(row.key, row.device.key, row.caption, row.width_px, row.height_px, row.added_at)
