"""Keeps pictures of devices, drawn anew on arrival; and deletes them."""

from __future__ import annotations

import hashlib

from django.db import IntegrityError, transaction

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit, devices, photo_pixels, quota
from measurements.ingest.stored import Stored
from measurements.models import Device, DevicePhoto

MOST_CAPTION = 200
MOST_OF_DEVICE = 24


def add(*, by: Viewer, device: str, data: bytes, caption: str = "") -> Stored:
    """Stores a picture of a device without anything but its pixels; the same file again finds the first.

    Raises BenchnightError `photo.*` and `upload.quota`; `device.not_found` where `by` may not alter it.
    """
    found = devices.owned(by, device)
    said = _caption(caption)
    raw_sha256 = hashlib.sha256(data).hexdigest()
    already = _stored(found, raw_sha256)
    if already is not None:
        return already
    if found.photos.count() >= MOST_OF_DEVICE:
        raise BenchnightError(
            "photo.too_many",
            f"A device has up to {MOST_OF_DEVICE} pictures. Delete one that is not needed any more.",
            kind="too_many",
            field="photo",
        )
    drawn = photo_pixels.redraw(data)
    quota.check(found.contributor, adding=len(drawn.content) + len(drawn.small))
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
            audit.note(by=by, action="photo.add", subject=row.key, device=found.key)
    except IntegrityError:
        # another request stored the same file between our look and our write
        already = _stored(found, raw_sha256)
        if already is None:
            raise
        return already
    return Stored(row.key, created=True)


def caption(*, by: Viewer, photo: str, caption: str) -> str:
    """Writes another caption; answers the key of the device. Raises BenchnightError `photo.not_found`."""
    row = _owned(by, photo)
    said = _caption(caption)
    with transaction.atomic():
        DevicePhoto.objects.filter(pk=row.pk).update(caption=said)
        audit.note(by=by, action="photo.caption", subject=row.key, device=row.device.key)
    return row.device.key


def remove(*, by: Viewer, photo: str) -> str:
    """Deletes a picture; answers the key of the device. Raises BenchnightError `photo.not_found`."""
    row = _owned(by, photo)
    with transaction.atomic():
        audit.note(by=by, action="photo.remove", subject=row.key, device=row.device.key)
        DevicePhoto.objects.filter(pk=row.pk).delete()
    return row.device.key


def _owned(by: Viewer, key: str) -> DevicePhoto:
    row = DevicePhoto.objects.select_related("device").defer("content", "small").filter(key=key).first()
    missing = BenchnightError("photo.not_found", "There is no such picture of yours.", kind="not_found")
    if row is None:
        raise missing
    try:
        devices.owned(by, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return row


def _stored(device: Device, raw_sha256: str) -> Stored | None:
    row = DevicePhoto.objects.filter(device=device, raw_sha256=raw_sha256).values_list("key", flat=True)
    return next((Stored(key, created=False) for key in row), None)


def _caption(text: str) -> str:
    said = " ".join(text.split())
    if len(said) > MOST_CAPTION or not said.isprintable():
        raise BenchnightError(
            "photo.caption", f"Keep the caption under {MOST_CAPTION} characters.", field="caption"
        )
    return said
