"""Club nights as their operators and stewards see them."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Count, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce, Length

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import NightStaff
from measurements.models import (
    ClaimCode,
    Night,
    NightContributor,
    NightDevice,
    NightJigFile,
    NightOperator,
    Test,
)
from measurements.queries import intakes, night_devices, paging
from measurements.queries.rows import Page
from measurements.queries.rows_of_nights import AttendeeRow, JigFileRow, NightDeviceRow, NightRow


def listing(
    viewer: Viewer, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[NightRow]:
    """The nights that the viewer runs, the last opened first; all of the group's for a steward."""
    policy.check_operator(viewer)
    size = paging.checked_limit(limit)
    rows = _nights()
    if not viewer.is_steward:
        rows = rows.filter(staff__member=viewer.member_id)
    found, next_cursor = paging.newest_first(rows, "opened_at", cursor, size)
    return Page(tuple(_row(night) for night in found), next_cursor)


def one(viewer: Viewer, key: str) -> NightRow:
    """A night with its people, devices, jig and intakes. Raises BenchnightError `night.not_found`."""
    night = seen(viewer, key, _nights())
    return _row(
        night,
        operators=tuple(night.staff.order_by("member__name").values_list("member__name", flat=True)),
        jig_files=_jig_files(night),
        contributors=_attendees(night),
        devices=night_devices.of_night(night),
        intakes=intakes.of_night(night),
    )


def devices_of(viewer: Viewer, night: str) -> tuple[NightDeviceRow, ...]:
    """Every device brought to a night, by tag, with its newest tests made there. Raises as `one`."""
    return night_devices.of_night(seen(viewer, night))


def seen(viewer: Viewer, key: str, nights: QuerySet[Night] | None = None) -> Night:
    """The night, when this viewer may see it. Raises BenchnightError `night.not_found`."""
    policy.check_operator(viewer)
    night = (Night.objects.all() if nights is None else nights).filter(key=key).first()
    if night is None:
        raise policy.missing("night")
    policy.check_see_night(viewer, NightStaff(NightOperator.objects.of_night(night.pk)))
    return night


def _nights() -> QuerySet[Night]:
    """Nights with their counts, each in a subquery: two joins at once would multiply them."""
    brought = NightDevice.objects.filter(night=OuterRef("pk")).order_by().values("night")
    made = Test.objects.filter(night=OuterRef("pk")).order_by().values("night")
    return Night.objects.select_related("opened_by").annotate(
        device_count=Coalesce(Subquery(brought.annotate(n=Count("pk")).values("n")), 0),
        test_count=Coalesce(Subquery(made.annotate(n=Count("pk")).values("n")), 0),
    )


def _jig_files(night: Night) -> tuple[JigFileRow, ...]:
    files = NightJigFile.objects.filter(night=night).annotate(size=Length("raw")).order_by("-role")
    return tuple(JigFileRow(*row) for row in files.values_list("role", "name", "size", "raw_sha256"))


def _attendees(night: Night) -> tuple[AttendeeRow, ...]:
    came = NightContributor.objects.filter(night=night).select_related("contributor__member")
    counted = dict(
        NightDevice.objects.filter(night=night)
        .values_list("device__contributor")
        .annotate(n=Count("pk"))
        .order_by()
    )
    coded = set(
        ClaimCode.objects.filter(contributor__attended__night=night, used_at=None).values_list(
            "contributor_id", flat=True
        )
    )
    rows = (
        AttendeeRow(
            key=person.key,
            name=person.contributor.member.name
            if person.contributor.member is not None
            else person.contributor.guest_name,
            is_guest=person.contributor.member is None,
            devices=counted.get(person.contributor_id, 0),
            has_code=person.contributor_id in coded,
        )
        for person in came
    )
    return tuple(sorted(rows, key=lambda row: row.name.casefold()))


def _row(night: Night, **filled: Iterable[object]) -> NightRow:
    return NightRow(
        key=night.key,
        held_on=night.held_on,
        title=night.title,
        instrument=night.instrument,
        jig=night.jig,
        calibrated=night.calibrated,
        calibration=night.calibration,
        resistors=night.resistors,
        notes=night.notes,
        opened_by="" if night.opened_by is None else night.opened_by.name,
        opened_at=night.opened_at,
        closed_at=night.closed_at,
        version=night.version,
        jig_figures=night.jig_figures,
        device_count=night.device_count,  # type: ignore[attr-defined]  # annotated above
        test_count=night.test_count,  # type: ignore[attr-defined]
        **filled,  # type: ignore[arg-type]
    )
