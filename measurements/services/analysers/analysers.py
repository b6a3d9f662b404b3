"""Describes an analyser once, changes and forgets it, and measures it with check sweeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import DescribedAnalyser, Member
from measurements.rf.analyser import Analyser, parse_analyser
from measurements.rf.instruments import check_sweeps
from measurements.rf.instruments.check_sweeps import CHECK_ROLES, ENDS, MeasuredResiduals
from measurements.rf.sweeps import file_endings, reading
from measurements.rf.sweeps.sweep import Sweep
from measurements.services.analysers.descriptions import build_description, get_own_analyser
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.uploads.uploads import Upload

MOST_ANALYSERS = 20  # of one account
MOST_NAME, MOST_CALIBRATION = 64, 200
STATED_FIELDS = (
    "paths",
    "reflection_residual",
    "port2_match_db",
    "drift_db",
    "noise",
    "resistor_percent",
)


def describe_analyser(*, by: Viewer, name: str, calibration: str = "", **stated: Any) -> WriteResult:
    """Store an analyser of `by`. stated: any of `STATED_FIELDS`; None and what is left out keep the default.

    Raises BenchnightError `analyser.*` with every fault, `analyser.name_taken`, `analyser.too_many`.
    """
    policy.check_signed_in(by)
    fields = _check_fields(name, calibration, stated)
    with transaction.atomic():
        # the account's row orders two descriptions that come at once
        Member.objects.select_for_update().get(pk=by.member_id)
        if DescribedAnalyser.objects.filter(member_id=by.member_id).count() >= MOST_ANALYSERS:
            raise BenchnightError(
                "analyser.too_many",
                f"An account describes up to {MOST_ANALYSERS} analysers. Forget one first.",
                kind="too_many",
            )
        made = DescribedAnalyser(member_id=by.member_id, description=fields["stated"], **fields)
        _save_named(made)
        audit.record_action(by=by, action="analyser.describe", subject=made.key)
    return WriteResult(made.key, created=True)


def change_analyser(*, by: Viewer, analyser: str, name: str, calibration: str = "", **stated: Any) -> None:
    """Describe an analyser anew. What check sweeps measured stays in force; tests keep what they used.

    Raises as `describe_analyser`, and BenchnightError `analyser.not_found`.
    """
    found = get_own_analyser(by, analyser)
    for field, value in _check_fields(name, calibration, stated).items():
        setattr(found, field, value)
    found.description = _combine(found.stated, found.measured)
    with transaction.atomic():
        _save_named(found)
        audit.record_action(by=by, action="analyser.change", subject=found.key)


def forget_analyser(*, by: Viewer, analyser: str) -> None:
    """Delete an analyser. Tests keep the description they used; nights that used it have none any more."""
    found = get_own_analyser(by, analyser)
    with transaction.atomic():
        audit.record_action(by=by, action="analyser.forget", subject=found.key)
        found.delete()


def check_analyser(
    *,
    by: Viewer,
    analyser: str,
    uploads: Mapping[str, Upload],
    line_end: str = "open",
    load_ohm: float | None = None,
    checked_on: date | None = None,
) -> MeasuredResiduals:
    """Measure an analyser's residuals with up to three check sweeps, in place of earlier ones.

    uploads: any of `CHECK_ROLES`. line_end: "open" or "short". load_ohm: by a meter, for check_load.
    The sweeps are read and forgotten. Raises BenchnightError `analyser.check_*`, or a file's own fault.
    """
    found = get_own_analyser(by, analyser)
    stated = parse_analyser(found.stated)
    measured = measure_uploads(uploads, line_end=line_end, load_ohm=load_ohm, stated=stated)
    found.measured = {**measured.as_json(), "roles": sorted(uploads)}
    found.checked_on = checked_on or timezone.localdate()
    found.description = _combine(found.stated, found.measured)
    with transaction.atomic():
        found.save(update_fields=["measured", "checked_on", "description"])
        audit.record_action(by=by, action="analyser.check", subject=found.key, roles=sorted(uploads))
    return measured


def forget_checks(*, by: Viewer, analyser: str) -> None:
    """Forget what check sweeps measured: a new calibration makes it out of date."""
    found = get_own_analyser(by, analyser)
    found.measured, found.checked_on, found.description = {}, None, build_description(found.stated)
    with transaction.atomic():
        found.save(update_fields=["measured", "checked_on", "description"])
        audit.record_action(by=by, action="analyser.forget_checks", subject=found.key)


def measure_uploads(
    uploads: Mapping[str, Upload], *, line_end: str, load_ohm: float | None, stated: Analyser
) -> MeasuredResiduals:
    """Read check sweeps and measure what they show; nothing is stored."""
    if not uploads:
        raise BenchnightError(
            "analyser.check_nothing", f"Send at least one of: {', '.join(CHECK_ROLES)}.", field=CHECK_ROLES[0]
        )
    ends = [end for end in ENDS if end == line_end]
    if not ends:
        raise BenchnightError("analyser.check_end", "The line's end is open or short.", field="line_end")
    sweeps = {role: _read_sweep(role, upload) for role, upload in uploads.items()}
    return check_sweeps.measure_residuals(
        sweeps, line_end=ends[0], load_ohm=load_ohm, assumed=stated.reflection_residual
    )


def _read_sweep(role: str, upload: Upload) -> Sweep:
    if role not in CHECK_ROLES:
        raise BenchnightError(
            "analyser.check_role", f"Check sweeps are: {', '.join(CHECK_ROLES)}.", field=role
        )
    file_endings.check_ending(upload.data, upload.name, role=role)
    sweep = reading.read_sweep(upload.data, upload.name, role=role)
    if sweep.points > settings.BENCHNIGHT_SWEEP_POINTS:
        raise BenchnightError(
            "sweep.too_many_points",
            f"The sweep has {sweep.points} points; the limit is {settings.BENCHNIGHT_SWEEP_POINTS}.",
            kind="too_large",
            field=role,
        )
    return sweep


def _combine(stated: dict[str, Any], measured: dict[str, Any]) -> dict[str, Any]:
    """Return the description: as stated, with what was measured in place of what was assumed."""
    if not measured:
        return build_description(stated)
    known = {name: value for name, value in measured.items() if name not in ("notes", "roles")}
    combined = asdict(MeasuredResiduals(**known).apply_to(parse_analyser(stated)))
    return build_description(combined)


def _check_fields(name: str, calibration: str, stated: Mapping[str, Any]) -> dict[str, Any]:
    faults = ErrorCollector("analyser.invalid", "Some fields of the analyser need mending; see the list.")
    plain, said = " ".join(str(name).split()), " ".join(str(calibration).split())
    if not 0 < len(plain) <= MOST_NAME or not plain.isprintable():
        faults.add("name", "analyser.name", f"Give it a name of up to {MOST_NAME} characters.")
    if len(said) > MOST_CALIBRATION or not said.isprintable():
        faults.add(
            "calibration", "analyser.calibration", f"Keep this to one line of {MOST_CALIBRATION} characters."
        )
    given = build_description(dict(stated))
    for field in given:
        if field not in STATED_FIELDS:
            faults.add(field, "analyser.unknown_field", f"Known fields: {', '.join(STATED_FIELDS)}.")
            continue
        try:
            parse_analyser({field: given[field]})
        except BenchnightError as error:
            faults.add(field, error.errors[0].code, error.errors[0].detail)
    faults.raise_any()
    return {"name": plain, "calibration": said, "stated": given}


def _save_named(made: DescribedAnalyser) -> None:
    try:
        with transaction.atomic():
            made.save()
    except IntegrityError as error:
        raise BenchnightError(
            "analyser.name_taken",
            "You have an analyser of this name. Give another name.",
            kind="conflict",
            field="name",
        ) from error
