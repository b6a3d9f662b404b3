"""Whose a device is, as queries and rows say it."""

from __future__ import annotations

from django.db.models import Q

from measurements.disclosure.viewers import Viewer
from measurements.models import Device

THE_GROUP = "the group"
UNKNOWN_BUILD = "Build not known yet"


def build_owner_filter(viewer: Viewer, prefix: str = "") -> Q:
    """Return which devices are the viewer's own: by account, and of a kit keeper the group's.

    prefix: path to the device, with its two underscores at the end. The same as `policy.can_see_device`
    says of anybody but stewards.
    """
    own = Q(**{f"{prefix}contributor__member": viewer.member_id})
    if not viewer.is_keeper:
        return own
    return own | Q(**{f"{prefix}contributor__is_group": True})


def format_build(device: Device) -> str:
    """Return the title of its design, or that its build is not known. device: with its design."""
    return UNKNOWN_BUILD if device.design is None else device.design.title
