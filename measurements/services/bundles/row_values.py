"""Stored rows as lines of a bundle: what is exported, and what an import compares with.

A line names things by their keys; a person by the pseudonym that this server gives (`signing`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from measurements.models import (
    CheckHold,
    CheckStandard,
    Conductor,
    Contributor,
    Core,
    Design,
    Device,
    DevicePhoto,
    DueMark,
    FaultSearch,
    Handover,
    Inspection,
    LabelCode,
    Loan,
    Mix,
    Night,
    NightContributor,
    NightDevice,
    Test,
)
from measurements.services.bundles import row_schema, signing
from measurements.services.devices import contributors

# of a device that an operator has on the bench, its owner's alone (trade.md, section 8)
OWNERS_FIELDS = ("place", "notes")


def hash_bytes(content: bytes) -> str:
    """Return the SHA-256 by which a bundle names a file."""
    return hashlib.sha256(content).hexdigest()


def hash_value(value: Any) -> str:
    """Return the start of the SHA-256 of a field's value, as marks keep it."""
    canonical = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hash_bytes(canonical.encode())[:24]


def format_time(moment: datetime | None) -> str | None:
    """Return a moment in UTC as a line has it."""
    return None if moment is None else moment.astimezone(UTC).isoformat()


def format_day(day: date | None) -> str | None:
    """Return a day as a line has it."""
    return None if day is None else day.isoformat()


def build_brought_key(night: str, device: str, brought_at: datetime) -> str:
    """Build what names one stay of a device on a night's bench."""
    return f"{night}:{device}:{brought_at.astimezone(UTC):%Y%m%d%H%M%S%f}"


def get_ref(contributor: Contributor) -> str:
    """Return the pseudonym of a contributor."""
    return signing.build_pseudonym(contributor.key)


def build_mix(row: Mix) -> dict[str, Any]:
    """Build the line of a ferrite material."""
    names = ("initial_permeability", "curie_c", "resistivity_ohm_cm", "rows")
    return {"key": row.name, **{name: getattr(row, name) for name in names}, **_build_source(row)}


def build_core(row: Core) -> dict[str, Any]:
    """Build the line of a listed core."""
    names = ("shape", "mix", "outer_mm", "inner_mm", "height_mm", "al_nh", "al_tolerance_percent")
    return {"key": row.part, **{name: getattr(row, name) for name in names}, **_build_source(row)}


def build_conductor(row: Conductor) -> dict[str, Any]:
    """Build the line of a listed conductor."""
    return {"key": row.name, "outer_mm": row.outer_mm, **_build_source(row)}


def _build_source(row: Mix | Core | Conductor) -> dict[str, Any]:
    return {"source": row.source, "basis": row.basis, "as_of": format_day(row.as_of), "note": row.note}


def build_design(row: Design) -> dict[str, Any]:
    """Build the line of a design: its recipe."""
    return {
        "key": row.key,
        "recipe": row.recipe,
        "recipe_sha256": row.recipe_sha256,
        "recipe_form": row_schema.RECIPE_FORM,
    }


def build_person(row: Contributor) -> dict[str, Any]:
    """Build the line of a person: a name, whether this server counts the person, unused codes of cards."""
    person = contributors.get_person_key(row)
    counted = person != contributors.UNCONFIRMED
    return {
        "key": get_ref(row),
        "person": signing.build_pseudonym(person if counted else row.person or row.key),
        "name": row.guest_name if row.member is None else row.member.name,
        "account": row.member is not None,
        "group": row.is_group,
        "confirmed": counted,
        "codes_sha256": sorted(row.claim_codes.filter(used_at=None).values_list("code_sha256", flat=True)),
    }


def build_night(row: Night) -> dict[str, Any]:
    """Build the line of a night with the names and hashes of its jig's sweeps."""
    names = ("title", "instrument", "jig", "calibrated", "calibration", "resistors", "notes", "jig_figures")
    files = row.jig_files.order_by("role").values_list("role", "name", "raw_sha256")
    return {
        "key": row.key,
        "held_on": format_day(row.held_on),
        **{name: getattr(row, name) for name in names},
        "opened_at": format_time(row.opened_at),
        "closed_at": format_time(row.closed_at),
        "jig_files": [{"role": role, "name": name, "sha256": digest} for role, name, digest in files],
    }


def build_attendee(row: NightContributor) -> dict[str, Any]:
    """Build the line of somebody on a night's list."""
    return {"key": row.key, "night": row.night.key, "person": get_ref(row.contributor), "name": row.name}


def build_device(row: Device) -> dict[str, Any]:
    """Build the line of a device."""
    return {
        "key": row.key,
        "design": None if row.design is None else row.design.key,
        "person": get_ref(row.contributor),
        "voter": None if row.voter is None else get_ref(row.voter),
        "kind": row.kind,
        "ratio": row.ratio,
        "make": row.make,
        "tag": row.tag,
        "origin": row.origin,
        "built_on": format_day(row.built_on),
        "notes": row.notes,
        "place": row.place,
        "registered_at": format_time(row.registered_at),
        "retired_on": format_day(row.retired_on),
        "is_check_standard": row.is_check_standard,
    }


def build_label(row: LabelCode) -> dict[str, Any]:
    """Build the line of a printed code that is bound to a device."""
    return {"key": row.code, "device": None if row.device is None else row.device.key}


def build_mark(row: DueMark) -> dict[str, Any]:
    """Build the line of a mark after an event."""
    return {
        "key": f"{row.device.key}:{row.batch}:{row.event}",
        "device": row.device.key,
        "event": row.event,
        "since": format_day(row.since),
        "reason": row.reason,
        "marked_at": format_time(row.marked_at),
        "batch": row.batch,
    }


def build_loan(row: Loan) -> dict[str, Any]:
    """Build the line of a loan, with the borrower's name as the keeper wrote it."""
    return {
        "key": row.key,
        "device": row.device.key,
        "borrower": row.borrower,
        "lent_on": format_day(row.lent_on),
        "returned_on": format_day(row.returned_on),
    }


def build_handover(row: Handover) -> dict[str, Any]:
    """Build the line of a hand-over that was answered; whose the device is now, its own line says."""
    return {
        "key": row.key,
        "device": row.device.key,
        "to_group": row.to_group,
        "name": row.name,
        "offered_at": format_time(row.offered_at),
        "answer": row.answer,
        "answered_at": format_time(row.answered_at),
    }


def build_stay(row: NightDevice) -> dict[str, Any]:
    """Build the line of a device's stay on a night's bench."""
    return {
        "key": build_brought_key(row.night.key, row.device.key, row.brought_at),
        "night": row.night.key,
        "device": row.device.key,
        "brought_at": format_time(row.brought_at),
        "opened_how": row.opened_how,
        "ended_at": format_time(row.ended_at),
        "ended_by_owner": row.ended_by_owner,
    }


def build_standard(row: CheckStandard) -> dict[str, Any]:
    """Build the line of a check standard."""
    return {
        "key": row.key,
        "device": row.device.key,
        "marked_at": format_time(row.marked_at),
        "counts_from": format_day(row.counts_from),
        "ended_at": format_time(row.ended_at),
    }


def build_test(row: Test) -> dict[str, Any]:
    """Build the line of a test: settings and files. Figures are computed anew where it is imported."""
    files = row.sweeps.order_by("role").values_list("role", "name", "raw_sha256")
    return {
        "key": row.key,
        "device": row.device.key,
        "night": None if row.night is None else row.night.key,
        "kind": row.kind,
        "settings": row.settings,
        "measured_on": format_day(row.measured_on),
        "recorded_at": format_time(row.recorded_at),
        "content_sha256": row.content_sha256,
        "excluded_reason": row.excluded_reason,
        "excluded_at": format_time(row.excluded_at),
        "recipe_confirmed_at": format_time(row.recipe_confirmed_at),
        "is_private": row.is_private,
        "files": [{"role": role, "name": name, "sha256": digest} for role, name, digest in files],
    }


def build_baseline(row: Device) -> dict[str, Any]:
    """Build the line of a device's commissioning test."""
    return {"key": row.key, "test": None if row.baseline is None else row.baseline.key}


def build_hold(row: CheckHold) -> dict[str, Any]:
    """Build the line of a night's tests that wait, or waited, for the check standard."""
    names = ("key", "test_key", "kind", "method", "findings", "advice", "ended_how", "reason")
    return {
        **{name: getattr(row, name) for name in names},
        "standard": None if row.standard is None else row.standard.key,
        "night": None if row.night is None else row.night.key,
        "measured_on": format_day(row.measured_on),
        "made_at": format_time(row.made_at),
        "ended_at": format_time(row.ended_at),
    }


def build_inspection(row: Inspection) -> dict[str, Any]:
    """Build the line of an inspection."""
    names = ("key", "findings", "dc_ohm", "notes", "content_sha256")
    return {
        **{name: getattr(row, name) for name in names},
        "device": row.device.key,
        "night": None if row.night is None else row.night.key,
        "inspected_on": format_day(row.inspected_on),
        "recorded_at": format_time(row.recorded_at),
    }


def build_picture(row: DevicePhoto) -> dict[str, Any]:
    """Build the line of a picture."""
    return {
        "key": row.key,
        "device": row.device.key,
        "caption": row.caption,
        "added_at": format_time(row.added_at),
        "raw_sha256": row.raw_sha256,
        "sha256": hash_bytes(bytes(row.content)),
    }


def build_search(row: FaultSearch) -> dict[str, Any]:
    """Build the line of a fault search with its steps."""
    names = ("key", "symptom", "answers", "finding", "version")
    steps = row.steps.order_by("pk").values_list("step", "test__key")
    return {
        **{name: getattr(row, name) for name in names},
        "device": row.device.key,
        "begun_at": format_time(row.begun_at),
        "ended_at": format_time(row.ended_at),
        "steps": [{"step": step, "test": test} for step, test in steps],
    }


BUILDERS: Mapping[str, Callable[[Any], dict[str, Any]]] = {
    "mixes": build_mix,
    "cores": build_core,
    "conductors": build_conductor,
    "designs": build_design,
    "people": build_person,
    "nights": build_night,
    "attendance": build_attendee,
    "devices": build_device,
    "labels": build_label,
    "marks": build_mark,
    "loans": build_loan,
    "handovers": build_handover,
    "brought": build_stay,
    "standards": build_standard,
    "tests": build_test,
    "baselines": build_baseline,
    "holds": build_hold,
    "inspections": build_inspection,
    "pictures": build_picture,
    "searches": build_search,
}
