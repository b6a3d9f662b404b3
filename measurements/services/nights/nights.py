"""Opens, changes and closes club nights, names who runs them, and keeps the sweeps of their jig."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import Member, Night, NightJigFile, NightOperator, Test, group_facts
from measurements.rf.instruments import jig, jig_check
from measurements.services.analysers.descriptions import get_own_analyser
from measurements.services.devices import attendance
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.reference import band_plan, benchmarks
from measurements.services.tests import analysis, preparation
from measurements.services.uploads.uploads import Upload

# The jig of a night: swept once, used by every common-mode test of the night; what it is good for.


def compute_jig_figures(night: Night, uploads: Mapping[str, Upload]) -> dict[str, Any]:
    """Return what a jig is good for on the bands of the night's day, from its sweeps "
    "(`rf.instruments.jig_check.assess_jig`).

    Raises BenchnightError `jig.nothing`, `jig.role`, `jig.mixed_up`, a faulty file with its line.
    """
    if not uploads:
        raise BenchnightError(
            "jig.nothing", f"Send at least one of: {', '.join(jig.JIG_ROLES)}.", field="jig_open"
        )
    for role in uploads:
        if role not in jig.JIG_ROLES:
            raise BenchnightError(
                "jig.role", f"A jig has these sweeps: {', '.join(jig.JIG_ROLES)}.", field=role
            )
    sweeps = analysis.read_sweeps(uploads)
    bands = band_plan.get_band_plan(group_facts.get_region(), night.held_on)
    return jig_check.assess_jig(sweeps, bands, benchmarks.get_current_limits().benchmark_db)


EARLIEST = date(1990, 1, 1)

FARTHEST = timedelta(days=366)  # a calendar of evenings may be opened ahead

MOST_NOTES = 4000

LINE_LENGTHS = {"title": 120, "instrument": 120, "jig": 200, "calibration": 200, "resistors": 200}

CHANGEABLE = ("held_on", *LINE_LENGTHS, "calibrated", "notes", "analyser")


def open_night(
    *,
    by: Viewer,
    held_on: date,
    title: str = "",
    instrument: str = "",
    jig: str = "",
    calibrated: bool | None = None,
    calibration: str = "",
    resistors: str = "",
    notes: str = "",
    analyser: str | None = None,
) -> WriteResult:
    """Open a night that `by` runs.

    calibrated: whether the analyser was calibrated at the jig's clips; None where nobody says. resistors:
    what the set of load resistors is and bears. analyser: key of an analyser that `by` described.
    Raises BenchnightError with every fault.
    """
    policy.check_operator(by)
    fields = _check_fields(
        {
            **_choose_analyser(by, analyser, None),
            "held_on": held_on,
            "title": title,
            "instrument": instrument,
            "jig": jig,
            "calibrated": calibrated,
            "calibration": calibration,
            "resistors": resistors,
            "notes": notes,
        }
    )
    with transaction.atomic():
        night = Night.objects.create(opened_by_id=by.member_id, **fields)
        NightOperator.objects.create(night=night, member_id=by.member_id)
        audit.record_action(by=by, action="night.open", subject=night.key)
    return WriteResult(night.key, created=True)


def update_night(*, by: Viewer, night: str, version: int, **changes: Any) -> int:
    """Change fields of a night (as named in `open_night`) and return its new version.

    Tests that are stored already keep what they were recorded with.
    Raises BenchnightError `night.stale` for a version that is no longer the newest.
    """
    found = attendance.get_night_for_staff(by, night)
    unknown = sorted(set(changes) - set(CHANGEABLE))
    if unknown:
        raise BenchnightError(
            "night.unknown_field",
            f"There is no such field; these can be changed: {', '.join(CHANGEABLE)}.",
            field=unknown[0],
        )
    if "analyser" in changes:
        changes |= _choose_analyser(by, changes["analyser"], found)
    fields = _check_fields({name: value for name, value in changes.items() if name != "analyser"})
    return _update_fields(by, found, version, "night.change", fields)


def _choose_analyser(by: Viewer, key: str | None, night: Night | None) -> dict[str, Any]:
    """Return the column to write: an analyser of the operator's own, or the one the night has already.

    Raises BenchnightError `analyser.not_found`.
    """
    if not key:
        return {"analyser_id": None}
    if night is not None and night.analyser is not None and night.analyser.key == key:
        return {"analyser_id": night.analyser_id}  # another operator's, left as it is
    return {"analyser_id": get_own_analyser(by, key).pk}


def close_night(*, by: Viewer, night: str, version: int) -> int:
    """Close a night: no more files, guests or jig sweeps until it is opened again. Returns the version.

    Its operators' access to members' devices ends for good; opened again, it takes the labels anew.
    """
    found = attendance.get_night_for_staff(by, night)
    with transaction.atomic():
        changed = _update_fields(by, found, version, "night.close", {"closed_at": timezone.now()})
        attendance.end_access_of_night(found)
    return changed


def reopen_night(*, by: Viewer, night: str, version: int) -> int:
    """Open a closed night again. Returns the version."""
    found = attendance.get_night_for_staff(by, night)
    return _update_fields(by, found, version, "night.reopen", {"closed_at": None})


def add_night_operator(*, by: Viewer, night: str, name: str) -> None:
    """Let another operator run this night too.

    Raises BenchnightError `night.operator` for a name that is no operator's account.
    """
    found = attendance.get_night_for_staff(by, night)
    account = Member.objects.filter(name=name.strip(), is_active=True).first()
    if account is None or account.role not in (Member.Role.OPERATOR, Member.Role.STEWARD):
        raise BenchnightError(
            "night.operator",
            "No operator has an account of this name. A steward can make somebody one.",
            field="name",
        )
    with transaction.atomic():
        NightOperator.objects.get_or_create(night=found, member=account)
        audit.record_action(by=by, action="night.add_operator", subject=found.key, member=account.pk)


def set_night_jig(*, by: Viewer, night: str, uploads: Mapping[str, Upload]) -> dict[str, Any]:
    """Store the jig's sweeps in place of earlier ones and answer what it is good for.

    uploads: at least one of jig_through, jig_open, jig_short. They are one jig: roles that are not sent are
    gone. The figures are those of `rf.instruments.jig_check.assess_jig` and "tests_before", how many
    tests of the night that use it are stored already: they keep the jig they were computed with. Withdraw one
    and record it again to have it computed with the new one.
    Raises BenchnightError `jig.nothing`, `jig.role`, `jig.mixed_up`, `night.closed`, or a file's own fault.
    """
    found = attendance.get_open_night(by, night)
    figures = compute_jig_figures(found, uploads)
    with transaction.atomic():
        NightJigFile.objects.filter(night=found).delete()
        for role, upload in uploads.items():
            NightJigFile.objects.create(
                night=found,
                role=role,
                name=preparation.clean_file_name(upload.name),
                raw=upload.data,
                raw_sha256=preparation.hash_upload(upload),
            )
        figures["tests_before"] = Test.objects.filter(
            night=found, kind__in=preparation.JIG_ROLES_BY_KIND
        ).count()
        Night.objects.filter(pk=found.pk).update(jig_figures=figures, version=F("version") + 1)
        audit.record_action(by=by, action="night.set_jig", subject=found.key, roles=sorted(uploads))
    return figures


def _update_fields(by: Viewer, night: Night, version: int, action: str, fields: dict[str, Any]) -> int:
    with transaction.atomic():
        # a conditional UPDATE, because row locks are a silent no-op on SQLite
        changed = Night.objects.filter(pk=night.pk, version=version).update(
            version=F("version") + 1, **fields
        )
        if not changed:
            raise BenchnightError(
                "night.stale",
                "Somebody changed this night meanwhile. Read it again and repeat your change.",
                kind="conflict",
            )
        audit.record_action(by=by, action=action, subject=night.key, fields=sorted(fields))
    return version + 1


def _check_fields(given: dict[str, Any]) -> dict[str, Any]:
    faults = ErrorCollector("night.invalid", "Some fields of the night need mending; see the list.")
    fields = dict(given)
    if "held_on" in given:
        latest = timezone.localdate() + FARTHEST
        if not isinstance(given["held_on"], date) or not EARLIEST <= given["held_on"] <= latest:
            faults.add("held_on", "night.held_on", "Give the day of the night, at most a year ahead.")
    for name, most in LINE_LENGTHS.items():
        if name in given:
            fields[name] = " ".join(str(given[name]).split())
            if len(fields[name]) > most or not fields[name].isprintable():
                faults.add(name, f"night.{name}", f"Keep this to one line of up to {most} characters.")
    if given.get("calibrated") not in (True, False, None):
        faults.add("calibrated", "night.calibrated", "Say true or false, or nothing.")
    if "notes" in given:
        fields["notes"] = str(given["notes"])
        if len(fields["notes"]) > MOST_NOTES or "\x00" in fields["notes"]:
            faults.add("notes", "night.notes", f"Keep the notes under {MOST_NOTES} characters of text.")
    faults.raise_any()
    return fields
