"""Checks the test that somebody chooses as a device's commissioning."""

from __future__ import annotations

from measurements.errors import BenchnightError
from measurements.models import Device, Result, Test


def chosen(device: Device, key: str | None) -> Test | None:
    """The test of this device with that key; None for None.

    Raises BenchnightError `device.baseline`: not a test of it, or one that does not count.
    """
    if key is None:
        return None
    test = Test.objects.filter(device=device, key=key).first()
    if test is None:
        raise BenchnightError("device.baseline", "Choose a test of this device.", field="baseline")
    if not counts(test):
        raise BenchnightError(
            "device.baseline",
            "This test is left out of evidence, so it cannot be the commissioning test. Choose another one.",
            field="baseline",
        )
    return test


def counts(test: Test) -> bool:
    """Whether a test is believed: nobody left it out, and no flag leaves out the whole of it."""
    figures = Result.objects.filter(test=test, current=True).values_list("figures", flat=True).get()
    left_out = any(flag["severity"] == "exclude" and flag["band"] is None for flag in figures["flags"])
    return not test.excluded_reason and not left_out
