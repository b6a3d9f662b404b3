"""What a device of a bundle has beside its tests: inspections, pictures, fault searches, the baseline."""

from __future__ import annotations

from typing import Any

from django.db.models import F

from measurements.errors import BenchnightError
from measurements.fitness.checklist import ITEMS_BY_CODE
from measurements.models import (
    Device,
    DevicePhoto,
    FaultSearch,
    FaultStep,
    Inspection,
    Night,
    Test,
)
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.row_fields import (
    Row,
    insert_row,
    parse_values,
)
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.upkeep import photo_redrawing


def create_inspection(_run: ImportRun, row: Row) -> Inspection:
    unknown = sorted(set(row["findings"]) - set(ITEMS_BY_CODE))
    if unknown:
        raise build_refusal(
            "bundle.row", f"Inspection {row['key']} has an item that this server does not know. Update it."
        )
    inspection: Inspection = insert_row(
        Inspection,
        parse_values(row, ("recorded_at",)),
        key=row["key"],
        device=Device.objects.get(key=row["device"]),
        night=Night.objects.filter(key=row["night"]).first(),
        **parse_values(row, ("inspected_on", "findings", "dc_ohm", "notes", "content_sha256")),
    )
    return inspection


def create_picture(run: ImportRun, row: Row) -> DevicePhoto:
    """Store a picture, drawn anew: of another server's file only the pixels come in."""
    try:
        drawn = photo_redrawing.redraw_photo(run.bag.read(f"data/files/{row['sha256']}"))
    except BenchnightError as error:
        raise build_refusal("bundle.picture", f"Picture {row['key']}: {error.detail}") from error
    picture: DevicePhoto = insert_row(
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


SEARCH_FIELDS = ("symptom", "answers", "finding", "ended_at", "version")


def create_search(run: ImportRun, row: Row) -> FaultSearch:
    search: FaultSearch = insert_row(
        FaultSearch,
        parse_values(row, ("begun_at",)),
        key=row["key"],
        device=Device.objects.get(key=row["device"]),
        **parse_values(row, SEARCH_FIELDS),
    )
    _store_steps(run, search, row["steps"])
    return search


def change_search(run: ImportRun, search: FaultSearch, changes: Row) -> None:
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


def change_baseline(_run: ImportRun, device: Device, changes: Row) -> None:
    test = Test.objects.filter(key=changes["test"], device=device).first()
    Device.objects.filter(pk=device.pk).update(baseline=test, version=F("version") + 1)


def create_nothing(_run: ImportRun, row: Row) -> Any:
    raise build_refusal("bundle.row", f"{row['key']} of this bundle names no row.")


def find_baseline(row: Row) -> Device | None:
    return Device.objects.select_related("baseline").filter(key=row["key"]).first()
