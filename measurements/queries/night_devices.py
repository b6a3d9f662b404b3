"""The devices of a night, each with the newest test of every kind that was made of it there.

Only tests of this night: what a member measured at home is not its operators' to see.
"""

from __future__ import annotations

from collections import defaultdict

from measurements.models import Night, NightContributor, NightDevice, Result
from measurements.queries.devices import owner_name
from measurements.queries.rows_of_nights import NightDeviceRow, NightTestRow


def of_night(night: Night) -> tuple[NightDeviceRow, ...]:
    """Every device brought, by tag and owner."""
    brought = NightDevice.objects.filter(night=night).select_related(
        "device__design", "device__contributor__member"
    )
    rows = list(brought)
    came = dict(NightContributor.objects.filter(night=night).values_list("contributor_id", "key"))
    made = _tests(night, [row.device_id for row in rows])
    shown = (
        NightDeviceRow(
            key=row.device.key,
            tag=row.device.tag,
            design=row.device.design.key,
            design_title=row.device.design.title,
            ratio=row.device.design.ratio,
            owner=owner_name(row.device.contributor),
            attendee=came.get(row.device.contributor_id),
            is_guest=row.device.contributor.member is None,
            brought_at=row.brought_at,
            tests=len(made[row.device_id]),
            newest=_newest(made[row.device_id]),
        )
        for row in rows
    )
    return tuple(sorted(shown, key=lambda row: (row.tag.casefold(), row.owner.casefold())))


def _tests(night: Night, device_ids: list[int]) -> dict[int, list[NightTestRow]]:
    """The night's tests by device, the newest first."""
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


def _newest(tests: list[NightTestRow]) -> tuple[NightTestRow, ...]:
    """One of each kind and method, in the order of the contract's kinds as first met."""
    newest: dict[tuple[str, str], NightTestRow] = {}
    for test in tests:
        newest.setdefault((test.kind, test.method), test)
    return tuple(newest.values())
