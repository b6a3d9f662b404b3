"""Keeps pictures of devices, drawn anew on arrival; and deletes them."""

from __future__ import annotations

import hashlib

from django.db import IntegrityError, transaction

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Device, DevicePhoto
from measurements.services.devices import devices
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.upkeep import photo_redrawing
from measurements.services.uploads import size_limits

MOST_CAPTION = 200
MOST_OF_DEVICE = 24


def add_photo(*, by: Viewer, device: str, data: bytes, caption: str = "") -> WriteResult:
    """Store a picture of a device without anything but its pixels; the same file again finds the first.

    Raises BenchnightError `photo.*` and `upload.quota`; `device.not_found` where `by` may not alter it.
    """
    found = devices.get_own_device(by, device)
    said = _check_caption(caption)
    raw_sha256 = hashlib.sha256(data).hexdigest()
    already = _find_same_photo(found, raw_sha256)
    if already is not None:
        return already
    if found.photos.count() >= MOST_OF_DEVICE:
        raise BenchnightError(
            "photo.too_many",
            f"A device has up to {MOST_OF_DEVICE} pictures. Delete one that is not needed any more.",
            kind="too_many",
            field="photo",
        )
    drawn = photo_redrawing.redraw_photo(data)
    size_limits.check_storage_room(found.contributor, adding=len(drawn.content) + len(drawn.small))
    try:
        with transaction.atomic():
            row = DevicePhoto.objects.create(
                device=found,
                caption=said,
                media_type=drawn.media_type,
                width_px=drawn.width_px,
                height_px=drawn.height_px,
                content=drawn.content,
                small=drawn.small,
                raw_sha256=raw_sha256,
            )
            audit.record_action(by=by, action="photo.add", subject=row.key, device=found.key)
    except IntegrityError:
        # another request stored the same file between our look and our write
        already = _find_same_photo(found, raw_sha256)
        if already is None:
            raise
        return already
    return WriteResult(row.key, created=True)


def change_caption(*, by: Viewer, photo: str, caption: str) -> str:
    """Write another caption; answers the key of the device. Raises BenchnightError `photo.not_found`."""
    row = _get_own_photo(by, photo)
    said = _check_caption(caption)
    with transaction.atomic():
        DevicePhoto.objects.filter(pk=row.pk).update(caption=said)
        audit.record_action(by=by, action="photo.caption", subject=row.key, device=row.device.key)
    return row.device.key


def delete_photo(*, by: Viewer, photo: str) -> str:
    """Delete a picture; answers the key of the device. Raises BenchnightError `photo.not_found`."""
    row = _get_own_photo(by, photo)
    with transaction.atomic():
        audit.record_action(by=by, action="photo.remove", subject=row.key, device=row.device.key)
        DevicePhoto.objects.filter(pk=row.pk).delete()
    return row.device.key


def _get_own_photo(by: Viewer, key: str) -> DevicePhoto:
    row = DevicePhoto.objects.select_related("device").defer("content", "small").filter(key=key).first()
    missing = BenchnightError("photo.not_found", "There is no such picture of yours.", kind="not_found")
    if row is None:
        raise missing
    try:
        devices.get_own_device(by, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return row


def _find_same_photo(device: Device, raw_sha256: str) -> WriteResult | None:
    row = DevicePhoto.objects.filter(device=device, raw_sha256=raw_sha256).values_list("key", flat=True)
    return next((WriteResult(key, created=False) for key in row), None)


def _check_caption(text: str) -> str:
    said = " ".join(text.split())
    if len(said) > MOST_CAPTION or not said.isprintable():
        raise BenchnightError(
            "photo.caption", f"Keep the caption under {MOST_CAPTION} characters.", field="caption"
        )
    return said
