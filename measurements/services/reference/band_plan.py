"""Stewards keep the band plan of the group's region: dated rows, so old tests stay judged as they were."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import Allocation, group_facts
from measurements.rf.bands import Band
from measurements.services.operations import audit

BY_GROUP = "set by the group"  # the basis of a row that a steward wrote; loading reference data keeps it

BAND_NAME_PATTERN = re.compile(r"[1-9][0-9]{0,3}(\.[0-9]{1,2})?(m|cm)")

LOWEST_HZ, HIGHEST_HZ = 100e3, 3e9

EARLIEST, FARTHEST = date(2000, 1, 1), timedelta(days=3660)


def change_band(
    *, by: Viewer, band: str, start_hz: float, stop_hz: float, valid_from: date, source: str, note: str = ""
) -> None:
    """Allocate a band anew from a day on, or for the first time; the row before it ends the day before.

    Tests measured before that day keep the edges they were judged by.
    Raises BenchnightError `band.invalid` with every fault, `band.not_after`, `band.overlap`.
    """
    policy.check_steward(by)
    fields = _check_fields(band, start_hz, stop_hz, valid_from, source)
    region = group_facts.get_region()
    with transaction.atomic():
        _refuse_overlap(region, band, start_hz, stop_hz, valid_from)
        for earlier in Allocation.objects.filter(region=region, band=band):
            _end_before(earlier, valid_from)
        Allocation.objects.create(
            region=region,
            band=band,
            start_hz=start_hz,
            stop_hz=stop_hz,
            valid_from=valid_from,
            basis=BY_GROUP,
            as_of=timezone.localdate(),
            note=" ".join(note.split()),
            **fields,
        )
        audit.record_action(
            by=by,
            action="band.change",
            subject=f"{region}/{band}",
            start_hz=start_hz,
            stop_hz=stop_hz,
            valid_from=valid_from.isoformat(),
        )


def end_band(*, by: Viewer, band: str, last_day: date, source: str) -> None:
    """End a band without another in its place.

    Raises BenchnightError `band.not_found`, `band.not_after`, `band.source`.
    """
    policy.check_steward(by)
    plain = audit.parse_justification(source, "source", "band.source", "Say where this is decided.")
    region = group_facts.get_region()
    with transaction.atomic():
        row = Allocation.objects.filter(region=region, band=band, valid_to=None).first()
        if row is None:
            raise BenchnightError(
                "band.not_found", "No such band goes on without an end.", kind="not_found", field="band"
            )
        _end_before(row, last_day + timedelta(days=1))
        row.basis, row.as_of = BY_GROUP, timezone.localdate()
        row.source = f"{row.source}; its end: {plain}"
        row.save(update_fields=["basis", "as_of", "source"])
        audit.record_action(
            by=by, action="band.end", subject=f"{region}/{band}", last_day=last_day.isoformat()
        )


def _end_before(row: Allocation, day: date) -> None:
    """Let a row end the day before `day`, unless it has ended by then."""
    last = day - timedelta(days=1)
    if row.valid_from >= day:
        raise BenchnightError(
            "band.not_after",
            f"This band has a row from {row.valid_from.isoformat()} on; a change begins after that day.",
            field="valid_from",
        )
    if row.valid_to is None or row.valid_to > last:
        row.valid_to = last
        row.save(update_fields=["valid_to"])


def _refuse_overlap(region: int, band: str, start_hz: float, stop_hz: float, day: date) -> None:
    later = Allocation.objects.filter(region=region, start_hz__lt=stop_hz, stop_hz__gt=start_hz)
    for row in later.exclude(band=band).exclude(valid_to__lt=day).order_by("start_hz", "pk"):
        raise BenchnightError(
            "band.overlap",
            f"It would overlap {row.band}, {row.start_hz / 1e6:g} to {row.stop_hz / 1e6:g} MHz. Change that "
            "one first.",
            field="start_hz",
        )


def _check_fields(
    band: str, start_hz: float, stop_hz: float, valid_from: date, source: str
) -> dict[str, str]:
    faults = ErrorCollector("band.invalid", "Some fields of the band need mending; see the list.")
    if not BAND_NAME_PATTERN.fullmatch(band):
        faults.add("band", "band.name", "Name it by its wavelength, such as 40m or 70cm.")
    for field, value in (("start_hz", start_hz), ("stop_hz", stop_hz)):
        if not LOWEST_HZ <= value <= HIGHEST_HZ:
            faults.add(field, f"band.{field}", "Give an edge from 0.1 to 3000 MHz.")
    if not faults.any and start_hz >= stop_hz:
        faults.add("stop_hz", "band.order", "The upper edge must be above the lower one.")
    if not EARLIEST <= valid_from <= timezone.localdate() + FARTHEST:
        faults.add("valid_from", "band.valid_from", "Give a day from 2000 on, at most ten years ahead.")
    fields: dict[str, str] = {}
    try:
        fields["source"] = audit.parse_justification(
            source, "source", "band.source", "Say where this is decided."
        )
    except BenchnightError as error:
        faults.take(error)
    faults.raise_any()
    return fields


BandPlanLookup = Callable[[int, date], tuple[Band, ...]]


def get_band_plan(region: int, on: date) -> tuple[Band, ...]:
    """Return the bands of an ITU region as allocated on a day, lowest first."""
    rows = Allocation.objects.in_force(region, on).values_list("band", "start_hz", "stop_hz")
    return tuple(Band(*row) for row in rows)
