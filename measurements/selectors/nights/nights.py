"""Club nights as their operators and stewards see them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce, Length

from measurements.disclosure import policy
from measurements.disclosure.policy import NightStaff
from measurements.disclosure.viewers import Viewer
from measurements.models import (
    ClaimCode,
    Night,
    NightContributor,
    NightDevice,
    NightJigFile,
    NightOperator,
    Result,
    Test,
)
from measurements.selectors import paging
from measurements.selectors.devices import owners
from measurements.selectors.intakes import intakes
from measurements.selectors.nights.rows import AttendeeRow, JigFileRow, NightDeviceRow, NightRow, NightTestRow
from measurements.selectors.paging import Page

# The devices of a night, each with the newest test of every kind that was made of it there.
#
# Only tests of this night: what a member measured at home is not its operators' to see.


def _night_device_rows(
    night: Night, rows: list[NightDevice], present: list[NightContributor]
) -> tuple[NightDeviceRow, ...]:
    """Return every device on the bench now, by tag and owner.

    Of a member's device that its label opened, the owner is not named.
    """
    came = {person.contributor_id: person.key for person in present}
    names = {person.contributor_id: person.name for person in present}
    made = list_tests_by_device(night, [row.device_id for row in rows])
    shown = (
        NightDeviceRow(
            key=row.device.key,
            tag=row.device.tag,
            design=None if row.device.design is None else row.device.design.key,
            design_title=owners.format_build(row.device),
            ratio="" if row.device.design is None else row.device.design.ratio,
            owner=_get_owner_name(row, names),
            attendee=came.get(row.device.contributor_id) if _is_named(row) else None,
            is_guest=row.device.contributor.is_guest,
            brought_at=row.brought_at,
            tests=len(made[row.device_id]),
            newest=list_newest_per_kind(made[row.device_id]),
        )
        for row in rows
    )
    return tuple(sorted(shown, key=lambda row: (row.tag.casefold(), row.owner.casefold())))


def _read_bench(night: Night) -> list[NightDevice]:
    brought = NightDevice.objects.live().filter(night=night)
    return list(brought.select_related("device__design", "device__contributor__member"))


def _get_owner_name(row: NightDevice, names: dict[int, str]) -> str:
    if row.device.contributor.is_group:
        return owners.THE_GROUP
    return names.get(row.device.contributor_id, "") if _is_named(row) else ""


def _is_named(row: NightDevice) -> bool:
    """Say whether the night knows whose it is: a guest's, or the owner said yes to the name."""
    return row.device.contributor.is_guest or row.opened_how != NightDevice.How.LABEL


def list_tests_by_device(night: Night, device_ids: list[int]) -> dict[int, list[NightTestRow]]:
    """Return the night's tests by device, the newest first."""
    results = Result.objects.filter(current=True, test__night=night, test__device__in=device_ids)
    results = results.select_related("test").only(
        "engine_version",
        "figures",
        "test__device_id",
        "test__key",
        "test__kind",
        "test__measured_on",
        "test__recorded_at",
    )
    found: dict[int, list[NightTestRow]] = defaultdict(list)
    for result in results.order_by("-test__measured_on", "-test__recorded_at", "-test__pk"):
        test, figures = result.test, result.figures
        found[test.device_id].append(
            NightTestRow(
                key=test.key,
                kind=test.kind,
                method=figures["method"],
                measured_on=test.measured_on,
                recorded_at=test.recorded_at,
                bands=tuple(figures["bands"]),
                summary=figures["summary"],
                flags=tuple(figures["flags"]),
                engine_version=result.engine_version,
            )
        )
    return found


def list_newest_per_kind(tests: list[NightTestRow]) -> tuple[NightTestRow, ...]:
    """Return one of each kind and method, in the order of the contract's kinds as first met."""
    newest: dict[tuple[str, str], NightTestRow] = {}
    for test in tests:
        newest.setdefault((test.kind, test.method), test)
    return tuple(newest.values())


def list_nights(
    viewer: Viewer, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[NightRow]:
    """Return the nights that the viewer runs, the last opened first; all of the group's for a steward."""
    policy.check_operator(viewer)
    size = paging.check_limit(limit)
    rows = _counted_nights()
    if not viewer.is_steward:
        rows = rows.filter(staff__member=viewer.member_id)
    page = paging.paginate_newest_first(rows, "opened_at", cursor, size)
    return Page(tuple(_night_row(night) for night in page.results), page.next_cursor, page.count)


def get_night(viewer: Viewer, key: str) -> NightRow:
    """Return a night with its people, devices, jig and intakes. Raises BenchnightError `night.not_found`."""
    night = get_night_record(viewer, key, _counted_nights())
    bench, present = _read_bench(night), _read_attendance(night)
    return _night_row(
        night,
        operators=tuple(night.staff.order_by("member__name").values_list("member__name", flat=True)),
        jig_files=_jig_files(night),
        contributors=_attendees(bench, present),
        devices=_night_device_rows(night, bench, present),
        intakes=intakes.list_intakes_of_night(night),
        requests=tuple(night.requests.order_by("-pk").values_list("name", "tag")),
    )


def get_night_head(viewer: Viewer, key: str) -> NightRow:
    """Return a night without its people, devices and intakes. Raises as `get_night`."""
    return _night_row(get_night_record(viewer, key, _counted_nights()))


def list_night_devices(viewer: Viewer, night: str) -> tuple[NightDeviceRow, ...]:
    """Return every device on a night's bench, by tag, with its newest tests made there. Raises as `one`."""
    found = get_night_record(viewer, night)
    return _night_device_rows(found, _read_bench(found), _read_attendance(found))


def get_night_record(viewer: Viewer, key: str, nights: QuerySet[Night] | None = None) -> Night:
    """Return the night, when this viewer may see it. Raises BenchnightError `night.not_found`."""
    policy.check_operator(viewer)
    night = (Night.objects.all() if nights is None else nights).filter(key=key).first()
    if night is None:
        raise policy.build_not_found("night")
    policy.check_see_night(viewer, NightStaff(NightOperator.objects.of_night(night.pk)))
    return night


def _counted_nights() -> QuerySet[Night]:
    """Return nights with their counts, each in a subquery: two joins at once would multiply them."""
    brought = NightDevice.objects.filter(night=OuterRef("pk")).order_by().values("night")
    made = Test.objects.filter(night=OuterRef("pk")).order_by().values("night")
    return Night.objects.select_related("opened_by", "analyser").annotate(
        device_count=Coalesce(Subquery(brought.annotate(n=Count("device", distinct=True)).values("n")), 0),
        test_count=Coalesce(Subquery(made.annotate(n=Count("pk")).values("n")), 0),
    )


def _jig_files(night: Night) -> tuple[JigFileRow, ...]:
    files = NightJigFile.objects.filter(night=night).annotate(size=Length("raw")).order_by("-role")
    return tuple(JigFileRow(*row) for row in files.values_list("role", "name", "size", "raw_sha256"))


def _read_attendance(night: Night) -> list[NightContributor]:
    """Return the night's list; `has_code`: a claim code of this person was printed and is not used yet."""
    unused = ClaimCode.objects.filter(contributor=OuterRef("contributor"), used_at=None)
    came = NightContributor.objects.filter(night=night).select_related("contributor__member")
    return list(came.annotate(has_code=Exists(unused)))


def _attendees(bench: list[NightDevice], present: list[NightContributor]) -> tuple[AttendeeRow, ...]:
    counted = Counter(row.device.contributor_id for row in bench)
    rows = (
        AttendeeRow(
            key=person.key,
            name=person.name,
            is_guest=person.contributor.member is None,
            confirmed=person.contributor.confirmed_at is not None,
            devices=counted[person.contributor_id],
            has_code=person.has_code,  # type: ignore[attr-defined]  # annotated
        )
        for person in present
    )
    return tuple(sorted(rows, key=lambda row: row.name.casefold()))


def _night_row(night: Night, **filled: Iterable[object]) -> NightRow:
    return NightRow(
        key=night.key,
        held_on=night.held_on,
        title=night.title,
        instrument=night.instrument,
        analyser=None if night.analyser is None else night.analyser.key,
        analyser_name="" if night.analyser is None else night.analyser.name,
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
