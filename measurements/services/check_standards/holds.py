"""Holds back the tests of a session whose check standard is out of control, and lets them go.

A hold is a reason to wait, no flag of a result: the verdicts of the tests stay, and they count as evidence
again once a later sweep of the same session is in control or an operator decides so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CheckHold, CheckStandard, Test
from measurements.services.devices import attendance
from measurements.services.operations import audit
from measurements.verdict import check_advice, check_sweeps
from measurements.verdict.check_history import JudgedSweep
from measurements.verdict.check_sweeps import BenchChart, CheckSweep


@dataclass(frozen=True)
class _Latest:
    """The last sweep of a session of one kind and method."""

    chart: BenchChart
    sweep: CheckSweep
    judged: JudgedSweep


def check_session(test: Test) -> None:
    """Judge the session of a check standard's test, stored or just withdrawn. Call inside a transaction.

    test: with its device. Nothing happens where the device is no check standard now.
    """
    standard = CheckStandard.objects.filter(device=test.device_id, ended_at=None).first()
    if standard is None or (standard.counts_from is not None and test.measured_on < standard.counts_from):
        return
    night = None if test.night is None else test.night.key
    session = check_sweeps.name_session(night, test.recorded_by_id, test.measured_on)
    sweeps = [check_sweeps.build_check_sweep(row) for row in standard.query_sweeps()]
    for chart in check_sweeps.judge_standard(sweeps):
        found = chart.list_session_sweeps(session)
        if found:
            _apply(standard, test, _Latest(chart, *found[-1]))


def _apply(standard: CheckStandard, test: Test, latest: _Latest) -> None:
    """Open or end holds of one kind and method by the last sweep of the session."""
    chart, sweep, judged = latest.chart, latest.sweep, latest.judged
    of_session = CheckHold.objects.filter(
        standard=standard, kind=chart.kind, method=chart.method, night=test.night
    )
    if test.night is None:
        of_session = of_session.filter(recorded_by=test.recorded_by, measured_on=test.measured_on)
    still_open = of_session.filter(ended_at=None)
    if judged.state == "in_control":
        _end(still_open, CheckHold.Ended.IN_CONTROL)
    if judged.state != "out_of_control":
        return  # a withdrawn sweep leaves its hold to an operator: withdrawing is no reason to let go
    row = chart.figures[chart.sweeps.index(sweep)]
    outside = check_advice.list_bands_outside(chart.bands, row, judged.limits, judged.outside)
    hold, created = CheckHold.objects.get_or_create(
        standard=standard,
        test_key=sweep.test,
        defaults={
            "kind": chart.kind,
            "method": chart.method,
            "night": test.night,
            "recorded_by": test.recorded_by,
            "measured_on": sweep.measured_on,
            "findings": [asdict(each) for each in outside],
            "advice": check_advice.advise(row, judged.limits, judged.outside),
        },
    )
    if created:
        audit.record_action(by=None, action="check.hold", subject=hold.key, test=sweep.test)
    elif hold.ended_at is not None and hold.ended_how != CheckHold.Ended.DECISION:
        # the later sweep that had ended it was withdrawn
        CheckHold.objects.filter(pk=hold.pk).update(ended_at=None, ended_how="")
        audit.record_action(by=None, action="check.hold", subject=hold.key, test=sweep.test)
    _end(still_open.exclude(pk=hold.pk), CheckHold.Ended.SWEPT_AGAIN)


def _end(holds: Sequence[CheckHold] | object, how: str) -> None:
    for hold in holds:  # type: ignore[attr-defined]  # a query set of few rows
        CheckHold.objects.filter(pk=hold.pk).update(ended_at=timezone.now(), ended_how=how)
        audit.record_action(by=None, action="check.release", subject=hold.key, how=how)


def release_tests(*, by: Viewer, hold: str, reason: str) -> None:
    """Let the tests of a session count although its check standard was out of control.

    by: an operator of the night, whoever measured outside a night as an operator, or a steward. reason: what
    operators and stewards read.
    Raises BenchnightError `check.hold_not_found`, `check.reason`, `check.hold_ended`.
    """
    found = get_hold_for_staff(by, hold)
    plain = audit.parse_justification(
        reason, "reason", "check.reason", "Say why the tests count although the check standard was out."
    )
    with transaction.atomic():
        # a conditional UPDATE, because row locks are a silent no-op on SQLite
        changed = CheckHold.objects.filter(pk=found.pk, ended_at=None).update(
            ended_at=timezone.now(),
            ended_how=CheckHold.Ended.DECISION,
            ended_by_id=by.member_id,
            reason=plain,
        )
        if not changed:
            raise BenchnightError(
                "check.hold_ended", "These tests do not wait any more. Look again.", kind="conflict"
            )
        audit.record_action(by=by, action="check.release", subject=found.key, how=CheckHold.Ended.DECISION)


def get_hold_for_staff(by: Viewer, key: str) -> CheckHold:
    """Return a hold whose session `by` runs. Raises BenchnightError `check.hold_not_found` otherwise."""
    policy.check_operator(by)
    found = CheckHold.objects.select_related("night").filter(key=key).first()
    if found is not None and (by.is_steward or _runs_session(by, found)):
        return found
    raise BenchnightError("check.hold_not_found", "No tests of yours wait here.", kind="not_found")


def _runs_session(by: Viewer, hold: CheckHold) -> bool:
    if hold.night is None:
        return by.member_id is not None and hold.recorded_by_id == by.member_id
    return policy.can_see_night(by, attendance.get_night_staff(hold.night))
