"""How each table of a bundle is found, made and changed here.

`TABLE_WRITERS` is total over the tables that hold a group's own rows; `catalogue_rows`, `people` and
`test_rows` do the others.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import models

from measurements.models import (
    CheckHold,
    CheckStandard,
    Device,
    DevicePhoto,
    DueMark,
    FaultSearch,
    Handover,
    Inspection,
    LabelCode,
    Loan,
    Night,
    NightContributor,
    NightDevice,
)
from measurements.services.bundles import device_rows, night_rows, upkeep_rows
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.row_fields import (
    Row,
    change_plainly,
    find_by_key,
)


@dataclass(frozen=True)
class TableWriter:
    """One table. needs: fields of a row that name rows which must be here. fields: what may change later.

    same: fields that never change; a row that differs in one is another thing under the same key.
    """

    model: type[models.Model]
    needs: tuple[str, ...]
    fields: tuple[str, ...]
    same: tuple[str, ...]
    find: Callable[[Row], Any]
    create: Callable[[ImportRun, Row], Any]
    change: Callable[[ImportRun, Any, Row], None]


# each table in the order of `row_schema.TABLES`; tests have a module of their own
TABLE_WRITERS: Mapping[str, TableWriter] = {
    "nights": TableWriter(
        Night,
        (),
        (*night_rows.NIGHT_FIELDS, "jig_files"),
        (),
        find_by_key(Night),
        night_rows.create_night,
        night_rows.change_night,
    ),
    "attendance": TableWriter(
        NightContributor,
        ("night", "person"),
        ("name",),
        ("night",),
        find_by_key(NightContributor, "night", "contributor"),
        night_rows.create_attendee,
        change_plainly(NightContributor),
    ),
    "devices": TableWriter(
        Device,
        ("person",),
        ("design", "person", "voter", "tag", *device_rows.DEVICE_FIELDS),
        (),
        find_by_key(Device, "contributor__member", "voter__member", "design"),
        device_rows.create_device,
        device_rows.change_device,
    ),
    "labels": TableWriter(
        LabelCode,
        ("device",),
        (),
        ("device",),
        lambda row: (
            LabelCode.objects.select_related("device").filter(code=row["key"]).exclude(device=None).first()
        ),
        device_rows.create_label,
        change_plainly(LabelCode),
    ),
    "marks": TableWriter(
        DueMark, ("device",), (), (), device_rows.find_mark, device_rows.create_mark, change_plainly(DueMark)
    ),
    "loans": TableWriter(
        Loan,
        ("device",),
        ("returned_on",),
        ("device", "lent_on"),
        find_by_key(Loan, "device"),
        device_rows.create_loan,
        change_plainly(Loan),
    ),
    "handovers": TableWriter(
        Handover,
        ("device",),
        (),
        ("device",),
        find_by_key(Handover, "device"),
        device_rows.create_handover,
        change_plainly(Handover),
    ),
    "brought": TableWriter(
        NightDevice,
        ("night", "device"),
        ("ended_at", "ended_by_owner"),
        (),
        device_rows.find_stay,
        device_rows.create_stay,
        change_plainly(NightDevice),
    ),
    "standards": TableWriter(
        CheckStandard,
        ("device",),
        ("counts_from", "ended_at"),
        ("device",),
        find_by_key(CheckStandard, "device"),
        device_rows.create_standard,
        change_plainly(CheckStandard),
    ),
    "baselines": TableWriter(
        Device,
        ("test",),
        ("test",),
        (),
        upkeep_rows.find_baseline,
        upkeep_rows.create_nothing,
        upkeep_rows.change_baseline,
    ),
    "holds": TableWriter(
        CheckHold,
        ("night",),
        ("ended_at", "ended_how", "reason"),
        ("test_key",),
        lambda row: (
            find_by_key(CheckHold, "standard", "night")(row)
            or CheckHold.objects.filter(standard__key=row["standard"], test_key=row["test_key"]).first()
        ),
        device_rows.create_hold,
        change_plainly(CheckHold),
    ),
    "inspections": TableWriter(
        Inspection,
        ("device",),
        (),
        ("device", "content_sha256"),
        lambda row: (
            find_by_key(Inspection, "device", "night")(row)
            or Inspection.objects.filter(
                device__key=row["device"], content_sha256=row["content_sha256"]
            ).first()
        ),
        upkeep_rows.create_inspection,
        change_plainly(Inspection),
    ),
    "pictures": TableWriter(
        DevicePhoto,
        ("device",),
        ("caption",),
        ("device", "raw_sha256"),
        lambda row: (
            find_by_key(DevicePhoto, "device")(row)
            or DevicePhoto.objects.filter(device__key=row["device"], raw_sha256=row["raw_sha256"]).first()
        ),
        upkeep_rows.create_picture,
        change_plainly(DevicePhoto),
    ),
    "searches": TableWriter(
        FaultSearch,
        ("device",),
        (*upkeep_rows.SEARCH_FIELDS, "steps"),
        ("device",),
        find_by_key(FaultSearch, "device"),
        upkeep_rows.create_search,
        upkeep_rows.change_search,
    ),
}
