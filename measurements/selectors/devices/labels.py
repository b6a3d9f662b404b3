"""Where the code on a label leads: to a device, or nowhere yet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Device, LabelCode


@dataclass(frozen=True)
class LabelRow:
    """device: key of the device that the label is on; "" of a blank label, and of an unknown code."""

    state: Literal["device", "blank", "unknown"]
    device: str = ""


def find_label(viewer: Viewer, code: str) -> LabelRow:
    """Say what a label's code is. Whoever holds a label learns no more than that it is one."""
    policy.check_signed_in(viewer)
    row = LabelCode.objects.filter(code=code).select_related("device").first()
    if row is None:
        known = Device.objects.filter(key=code).exists()
        return LabelRow("device", code) if known else LabelRow("unknown")
    return LabelRow("blank") if row.device is None else LabelRow("device", row.device.key)


def list_free_codes(viewer: Viewer) -> tuple[str, ...]:
    """Return the viewer's own blank labels that wait for a device, the newest first, at most 200."""
    policy.check_signed_in(viewer)
    rows = LabelCode.objects.filter(made_by=viewer.member_id, device=None).order_by("-pk")
    return tuple(rows.values_list("code", flat=True)[:200])
