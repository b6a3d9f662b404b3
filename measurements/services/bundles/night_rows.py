"""Nights of a bundle, their jig sweeps and who came."""

from __future__ import annotations

from typing import Any

from django.db.models import F

from measurements.models import (
    Night,
    NightContributor,
    NightJigFile,
    NightOperator,
)
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.row_fields import (
    Row,
    get_person,
    insert_row,
    parse_values,
)
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.tests import preparation

NIGHT_FIELDS = ("held_on", "title", "instrument", "jig", "calibrated", "calibration", "resistors", "notes")
NIGHT_FIELDS += ("closed_at", "jig_figures")


def create_night(run: ImportRun, row: Row) -> Night:
    night: Night = insert_row(
        Night, parse_values(row, ("opened_at",)), key=row["key"], **parse_values(row, NIGHT_FIELDS)
    )
    _store_jig(run, night, row["jig_files"])
    if run.by is not None and run.by.member_id is not None and run.by.is_operator:
        NightOperator.objects.create(night=night, member_id=run.by.member_id)
    return night


def change_night(run: ImportRun, night: Night, changes: Row) -> None:
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


def create_attendee(run: ImportRun, row: Row) -> NightContributor:
    night = Night.objects.get(key=row["night"])
    owner = get_person(run, row)
    here = NightContributor.objects.filter(night=night, contributor=owner).first()
    return here or insert_row(
        NightContributor, key=row["key"], night=night, contributor=owner, name=row["name"]
    )
