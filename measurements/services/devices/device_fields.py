"""Checks what somebody writes of a device, field by field."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import Design, Device

MOST_TAG, MOST_NOTES = 64, 4000
# one line of free text each: field -> how many characters, what to do
LINES = {
    "place": (120, "Say where in up to 120 characters."),
    "kind": (64, "Say what it is in up to 64 characters."),
    "ratio": (16, "Give the ratio in up to 16 characters, such as 4:1."),
    "make": (120, "Give make and model in up to 120 characters."),
}
DATES = ("built_on", "retired_on")
CHANGEABLE = ("design", "tag", "origin", *DATES, "notes", "baseline", *LINES)


def check_device_fields(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields as they are stored, `baseline` aside; those that are missing stay missing.

    design: key of a design, or None while the build is not known.
    Raises BenchnightError `device.unknown_field`, else `device.invalid` with every fault.
    """
    unknown = sorted(set(given) - set(CHANGEABLE))
    if unknown:
        raise BenchnightError(
            "device.unknown_field",
            f"There is no such field; these can be changed: {', '.join(CHANGEABLE)}.",
            field=unknown[0],
        )
    faults = ErrorCollector("device.invalid", "Some fields of the device need mending; see the list.")
    fields: dict[str, Any] = {}
    for name, value in given.items():
        if name != "baseline":
            fields[name] = _check_field(name, value, faults)
    faults.raise_any()
    return fields


def _check_field(name: str, value: Any, faults: ErrorCollector) -> Any:
    if name in LINES:
        return _check_line(name, value, faults)
    if name in DATES:
        if value is not None and not date(1900, 1, 1) <= value <= _get_tomorrow():
            faults.add(name, f"device.{name}", "Give a date that is not in the future.")
        return value
    return {"design": _check_design, "tag": _check_tag, "origin": _check_origin, "notes": _check_notes}[name](
        value, faults
    )


def _check_line(name: str, value: Any, faults: ErrorCollector) -> str:
    plain = " ".join(str(value).split())
    most, what_to_do = LINES[name]
    if len(plain) > most or not plain.isprintable():
        faults.add(name, f"device.{name}", what_to_do)
    return plain


def _check_design(value: Any, faults: ErrorCollector) -> Design | None:
    if value is None:
        return None
    found = Design.objects.reached(str(value))
    if found is None:
        faults.add("design", "device.unknown_design", "There is no such design; register it first.")
    return found


def _check_tag(value: Any, faults: ErrorCollector) -> str:
    plain = " ".join(str(value).split())
    if not 1 <= len(plain) <= MOST_TAG or not plain.isprintable():
        faults.add("tag", "device.tag", f"Give the tag on the device, up to {MOST_TAG} characters.")
    return plain


def _check_origin(value: Any, faults: ErrorCollector) -> Any:
    if value not in Device.Origin.values:
        faults.add("origin", "device.origin", f"Choose one of: {', '.join(Device.Origin.values)}.")
    return value


def _check_notes(value: Any, faults: ErrorCollector) -> str:
    text = str(value)
    if len(text) > MOST_NOTES or "\x00" in text:
        faults.add("notes", "device.notes", f"Keep the notes under {MOST_NOTES} characters of text.")
    return text


def _get_tomorrow() -> date:
    """Return tomorrow by UTC: whoever is ahead of UTC may already write tomorrow's date."""
    return (timezone.now() + timedelta(days=1)).date()
