"""How each table of a bundle is found, made and changed here.

`TABLE_WRITERS` is total over the tables that hold a group's own rows; `catalogue_rows`, `people` and
`test_rows` do the others.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import models
from django.db.models import F
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.fitness.checklist import ITEMS_BY_CODE
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.models import (
    CheckHold,
    CheckStandard,
    Contributor,
    Design,
    Device,
    DevicePhoto,
    DueMark,
    FaultSearch,
    FaultStep,
    Handover,
    Inspection,
    LabelCode,
    Loan,
    Night,
    NightContributor,
    NightDevice,
    NightJigFile,
    NightOperator,
    Test,
)
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.tests import preparation
from measurements.services.upkeep import photo_redrawing

Row = Mapping[str, Any]
DAYS = frozenset(
    {
        "held_on",
        "built_on",
        "since",
        "retired_on",
        "counts_from",
        "measured_on",
        "inspected_on",
        "lent_on",
        "returned_on",
    }
)
TIMES = frozenset(
    [
        "opened_at",
        "closed_at",
        "registered_at",
        "brought_at",
        "ended_at",
        "marked_at",
        "recorded_at",
        "excluded_at",
        "recipe_confirmed_at",
        "made_at",
        "added_at",
        "begun_at",
        "offered_at",
        "answered_at",
    ]
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


def parse_values(row: Row, names: tuple[str, ...]) -> dict[str, Any]:
    """Return fields as the database takes them. Raises `bundle.row` for what is no day."""
    found: dict[str, Any] = {}
    for name in names:
        value = row[name]
        try:
            if value is not None and name in DAYS:
                value = date.fromisoformat(value)
            elif value is not None and name in TIMES:
                value = datetime.fromisoformat(value)
        except ValueError as error:
            raise build_refusal("bundle.row", f"{name} of {row['key']} is no day or time.") from error
        found[name] = value
    return found


def _find_by_key(model: type[models.Model], *related: str) -> Callable[[Row], Any]:
    return lambda row: model._default_manager.select_related(*related).filter(key=row["key"]).first()


def _change_plainly(model: type[models.Model]) -> Callable[[ImportRun, Any, Row], None]:
    def change(_run: ImportRun, stored: Any, changes: Row) -> None:
        values = parse_values({"key": stored.pk, **changes}, tuple(changes))
        model._default_manager.filter(pk=stored.pk).update(**values)

    return change


def _insert(model: type[models.Model], stamps: dict[str, Any] | None = None, **values: Any) -> Any:
    """Store a row; stamps: times that the table would fill in itself."""
    stored = model(**values)
    stored.save(force_insert=True)
    if stamps:
        model._default_manager.filter(pk=stored.pk).update(**stamps)
    return stored


# nights

_NIGHT = ("held_on", "title", "instrument", "jig", "calibrated", "calibration", "resistors", "notes")
_NIGHT += ("closed_at", "jig_figures")


def _create_night(run: ImportRun, row: Row) -> Night:
    night: Night = _insert(
        Night, parse_values(row, ("opened_at",)), key=row["key"], **parse_values(row, _NIGHT)
    )
    _store_jig(run, night, row["jig_files"])
    if run.by is not None and run.by.member_id is not None and run.by.is_operator:
        NightOperator.objects.create(night=night, member_id=run.by.member_id)
    return night


def _change_night(run: ImportRun, night: Night, changes: Row) -> None:
    plain = {name: value for name, value in changes.items() if name != "jig_files"}
    values = parse_values({"key": night.key, **plain}, tuple(plain))
    Night.objects.filter(pk=night.pk).update(version=F("version") + 1, **values)
    if "jig_files" in changes:
        night.jig_files.all().delete()
        _store_jig(run, night, changes["jig_files"])


def _store_jig(run: ImportRun, night: Night, files: list[dict[str, Any]]) -> None:
    for file in files:
        if file["role"] not in ("jig_through", "jig_open", "jig_short"):
            raise build_refusal("bundle.row", f"Night {night.key} has a jig sweep of no known role.")
        NightJigFile.objects.create(
            night=night,
            role=file["role"],
            name=preparation.clean_file_name(file["name"]),
            raw=run.bag.read(f"data/files/{file['sha256']}"),
            raw_sha256=file["sha256"],
        )


def _create_attendee(run: ImportRun, row: Row) -> NightContributor:
    night = Night.objects.get(key=row["night"])
    owner = get_person(run, row)
    here = NightContributor.objects.filter(night=night, contributor=owner).first()
    return here or _insert(NightContributor, key=row["key"], night=night, contributor=owner, name=row["name"])


# devices

_DEVICE = ("origin", "built_on", "notes", "place", "kind", "ratio", "make", "retired_on", "is_check_standard")


def get_person(run: ImportRun, row: Row) -> Contributor:
    """Return the contributor of a row. `row_imports` has checked that there is one."""
    found = run.people[row["person_ref"]]
    if found is None:
        raise build_refusal("bundle.row", "A row of this bundle names nobody.")
    return found


def _create_device(run: ImportRun, row: Row) -> Device:
    owner = get_person(run, row)
    given = tuple(name for name in _DEVICE if name in row)
    device: Device = _insert(
        Device,
        parse_values(row, ("registered_at",)),
        key=row["key"],
        contributor=owner,
        voter=None if row["voter_ref"] is None else run.people[row["voter_ref"]],
        design=None if row["design"] is None else Design.objects.get(key=row["design"]),
        tag=choose_free_tag(owner, row["tag"], row["key"]),
        **parse_values(row, given),
    )
    return device


def choose_free_tag(owner: Contributor, tag: str, key: str, *, besides: int | None = None) -> str:
    """Return the tag, with the start of the device's key where the owner has that tag already."""
    if not owner.devices.filter(tag=tag).exclude(pk=besides).exists():
        return tag
    return f"{tag[:59]}-{key[:4]}"


def _change_device(run: ImportRun, device: Device, changes: Row) -> None:
    plain = tuple(name for name in changes if name in _DEVICE)
    values = parse_values({"key": device.key, **changes}, plain)
    owner = device.contributor
    if "person" in changes:
        owner = values["contributor"] = get_person(run, changes)
    if "tag" in changes or "person" in changes:
        tag = changes.get("tag", device.tag)
        values["tag"] = choose_free_tag(owner, tag, device.key, besides=device.pk)
    if "design" in changes:
        key = changes["design"]
        values["design"] = None if key is None else Design.objects.get(key=key)
    if "voter" in changes:
        values["voter"] = None if changes["voter_ref"] is None else run.people[changes["voter_ref"]]
    Device.objects.filter(pk=device.pk).update(version=F("version") + 1, **values)


def _create_label(_run: ImportRun, row: Row) -> LabelCode:
    """Bind a printed code to its device; one that waits here for a device is bound now."""
    device = Device.objects.get(key=row["device"])
    label, _ = LabelCode.objects.update_or_create(
        code=row["key"], defaults={"device": device, "bound_at": timezone.now()}
    )
    return label


def _create_mark(_run: ImportRun, row: Row) -> DueMark:
    if row["event"] not in DUE_EVENTS_BY_CODE:
        raise build_refusal("bundle.row", f"{row['key']} names an event that this server does not know.")
    mark: DueMark = _insert(
        DueMark,
        device=Device.objects.get(key=row["device"]),
        **parse_values(row, ("event", "since", "reason", "marked_at", "batch")),
    )
    return mark


def _find_mark(row: Row) -> DueMark | None:
    marks = DueMark.objects.select_related("device")
    return marks.filter(device__key=row["device"], batch=row["batch"], event=row["event"]).first()


def _create_loan(_run: ImportRun, row: Row) -> Loan:
    """Store a loan; one that is open there is over here, where somebody else has the device now."""
    device, values = Device.objects.get(key=row["device"]), parse_values(row, ("lent_on", "returned_on"))
    if values["returned_on"] is None and device.loans.filter(returned_on=None).exists():
        values["returned_on"] = max(values["lent_on"], timezone.localdate())
    loan: Loan = _insert(Loan, key=row["key"], device=device, borrower=row["borrower"], **values)
    return loan


def _create_handover(_run: ImportRun, row: Row) -> Handover:
    values = parse_values(row, ("to_group", "name", "answer", "answered_at"))
    device, stamps = Device.objects.get(key=row["device"]), parse_values(row, ("offered_at",))
    handover: Handover = _insert(Handover, stamps, key=row["key"], device=device, **values)
    return handover


def _find_stay(row: Row) -> NightDevice | None:
    stays = NightDevice.objects.select_related("night", "device")
    moment = parse_values(row, ("brought_at",))["brought_at"]
    return stays.filter(night__key=row["night"], device__key=row["device"], brought_at=moment).first()


def _create_stay(_run: ImportRun, row: Row) -> NightDevice:
    night, device = Night.objects.get(key=row["night"]), Device.objects.get(key=row["device"])
    values = parse_values(row, ("opened_how", "ended_at", "ended_by_owner"))
    open_one = NightDevice.objects.filter(night=night, device=device, ended_at=None)
    if values["ended_at"] is None and open_one.exists():
        values["ended_at"] = timezone.now()
    stay: NightDevice = _insert(
        NightDevice, parse_values(row, ("brought_at",)), night=night, device=device, **values
    )
    return stay


def _create_standard(_run: ImportRun, row: Row) -> CheckStandard:
    device = Device.objects.get(key=row["device"])
    values = parse_values(row, ("counts_from", "ended_at"))
    if values["ended_at"] is None and device.standards.filter(ended_at=None).exists():
        values["ended_at"] = timezone.now()  # it is this server's check standard already
    standard: CheckStandard = _insert(
        CheckStandard, parse_values(row, ("marked_at",)), key=row["key"], device=device, **values
    )
    return standard


def _create_hold(_run: ImportRun, row: Row) -> CheckHold:
    names = (
        "test_key",
        "kind",
        "method",
        "measured_on",
        "findings",
        "advice",
        "ended_at",
        "ended_how",
        "reason",
    )
    hold: CheckHold = _insert(
        CheckHold,
        parse_values(row, ("made_at",)),
        key=row["key"],
        standard=CheckStandard.objects.filter(key=row["standard"]).first(),
        night=Night.objects.get(key=row["night"]),
        **parse_values(row, names),
    )
    return hold


# what a device has beside its tests


def _create_inspection(_run: ImportRun, row: Row) -> Inspection:
    unknown = sorted(set(row["findings"]) - set(ITEMS_BY_CODE))
    if unknown:
        raise build_refusal(
            "bundle.row", f"Inspection {row['key']} has an item that this server does not know. Update it."
        )
    inspection: Inspection = _insert(
        Inspection,
        parse_values(row, ("recorded_at",)),
        key=row["key"],
        device=Device.objects.get(key=row["device"]),
        night=Night.objects.filter(key=row["night"]).first(),
        **parse_values(row, ("inspected_on", "findings", "dc_ohm", "notes", "content_sha256")),
    )
    return inspection


def _create_picture(run: ImportRun, row: Row) -> DevicePhoto:
    """Store a picture, drawn anew: of another server's file only the pixels come in."""
    try:
        drawn = photo_redrawing.redraw_photo(run.bag.read(f"data/files/{row['sha256']}"))
    except BenchnightError as error:
        raise build_refusal("bundle.picture", f"Picture {row['key']}: {error.detail}") from error
    picture: DevicePhoto = _insert(
        DevicePhoto,
        parse_values(row, ("added_at",)),
        key=row["key"],
        device=Device.objects.get(key=row["device"]),
        caption=row["caption"],
        media_type=drawn.media_type,
        width_px=drawn.width_px,
        height_px=drawn.height_px,
        content=drawn.content,
        small=drawn.small,
        raw_sha256=row["raw_sha256"],
    )
    return picture


_SEARCH = ("symptom", "answers", "finding", "ended_at", "version")


def _create_search(run: ImportRun, row: Row) -> FaultSearch:
    search: FaultSearch = _insert(
        FaultSearch,
        parse_values(row, ("begun_at",)),
        key=row["key"],
        device=Device.objects.get(key=row["device"]),
        **parse_values(row, _SEARCH),
    )
    _store_steps(run, search, row["steps"])
    return search


def _change_search(run: ImportRun, search: FaultSearch, changes: Row) -> None:
    plain = {name: value for name, value in changes.items() if name != "steps"}
    if plain:
        FaultSearch.objects.filter(pk=search.pk).update(
            **parse_values({"key": search.key, **plain}, tuple(plain))
        )
    if "steps" in changes:
        search.steps.all().delete()
        _store_steps(run, search, changes["steps"])


def _store_steps(_run: ImportRun, search: FaultSearch, steps: list[dict[str, Any]]) -> None:
    for step in steps:
        test = Test.objects.filter(key=step["test"]).first()
        if test is not None:
            FaultStep.objects.get_or_create(search=search, step=step["step"], test=test)


def _change_baseline(_run: ImportRun, device: Device, changes: Row) -> None:
    test = Test.objects.filter(key=changes["test"], device=device).first()
    Device.objects.filter(pk=device.pk).update(baseline=test, version=F("version") + 1)


def _create_nothing(_run: ImportRun, row: Row) -> Any:
    raise build_refusal("bundle.row", f"{row['key']} of this bundle names no row.")


def _find_baseline(row: Row) -> Device | None:
    return Device.objects.select_related("baseline").filter(key=row["key"]).first()


# each table in the order of `row_schema.TABLES`; tests have a module of their own
TABLE_WRITERS: Mapping[str, TableWriter] = {
    "nights": TableWriter(
        Night, (), (*_NIGHT, "jig_files"), (), _find_by_key(Night), _create_night, _change_night
    ),
    "attendance": TableWriter(
        NightContributor,
        ("night", "person"),
        ("name",),
        ("night",),
        _find_by_key(NightContributor, "night", "contributor"),
        _create_attendee,
        _change_plainly(NightContributor),
    ),
    "devices": TableWriter(
        Device,
        ("person",),
        ("design", "person", "voter", "tag", *_DEVICE),
        (),
        _find_by_key(Device, "contributor__member", "voter__member", "design"),
        _create_device,
        _change_device,
    ),
    "labels": TableWriter(
        LabelCode,
        ("device",),
        (),
        ("device",),
        lambda row: (
            LabelCode.objects.select_related("device").filter(code=row["key"]).exclude(device=None).first()
        ),
        _create_label,
        _change_plainly(LabelCode),
    ),
    "marks": TableWriter(DueMark, ("device",), (), (), _find_mark, _create_mark, _change_plainly(DueMark)),
    "loans": TableWriter(
        Loan,
        ("device",),
        ("returned_on",),
        ("device", "lent_on"),
        _find_by_key(Loan, "device"),
        _create_loan,
        _change_plainly(Loan),
    ),
    "handovers": TableWriter(
        Handover,
        ("device",),
        (),
        ("device",),
        _find_by_key(Handover, "device"),
        _create_handover,
        _change_plainly(Handover),
    ),
    "brought": TableWriter(
        NightDevice,
        ("night", "device"),
        ("ended_at", "ended_by_owner"),
        (),
        _find_stay,
        _create_stay,
        _change_plainly(NightDevice),
    ),
    "standards": TableWriter(
        CheckStandard,
        ("device",),
        ("counts_from", "ended_at"),
        ("device",),
        _find_by_key(CheckStandard, "device"),
        _create_standard,
        _change_plainly(CheckStandard),
    ),
    "baselines": TableWriter(
        Device, ("test",), ("test",), (), _find_baseline, _create_nothing, _change_baseline
    ),
    "holds": TableWriter(
        CheckHold,
        ("night",),
        ("ended_at", "ended_how", "reason"),
        ("test_key",),
        lambda row: (
            _find_by_key(CheckHold, "standard", "night")(row)
            or CheckHold.objects.filter(standard__key=row["standard"], test_key=row["test_key"]).first()
        ),
        _create_hold,
        _change_plainly(CheckHold),
    ),
    "inspections": TableWriter(
        Inspection,
        ("device",),
        (),
        ("device", "content_sha256"),
        lambda row: (
            _find_by_key(Inspection, "device", "night")(row)
            or Inspection.objects.filter(
                device__key=row["device"], content_sha256=row["content_sha256"]
            ).first()
        ),
        _create_inspection,
        _change_plainly(Inspection),
    ),
    "pictures": TableWriter(
        DevicePhoto,
        ("device",),
        ("caption",),
        ("device", "raw_sha256"),
        lambda row: (
            _find_by_key(DevicePhoto, "device")(row)
            or DevicePhoto.objects.filter(device__key=row["device"], raw_sha256=row["raw_sha256"]).first()
        ),
        _create_picture,
        _change_plainly(DevicePhoto),
    ),
    "searches": TableWriter(
        FaultSearch,
        ("device",),
        (*_SEARCH, "steps"),
        ("device",),
        _find_by_key(FaultSearch, "device"),
        _create_search,
        _change_search,
    ),
}
