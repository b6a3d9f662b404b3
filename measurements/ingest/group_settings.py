"""Stewards set the numbers of their group; what was before stands in the audit log."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit
from measurements.models import GroupSetting, group
from measurements.models.house_rules import RULES, HouseRule


def change(*, by: Viewer, name: str, value: float, version: str = "") -> str:
    """Sets a number and answers its new version.

    version: that of the row as it was read, empty while it is the house default.
    Raises BenchnightError `group_setting.unknown`, `group_setting.value` (with what is allowed), and
    `group_setting.stale` when somebody changed it meanwhile.
    """
    policy.check_steward(by)
    rule = _rule(name)
    if not rule.allows(value):
        raise BenchnightError("group_setting.value", allowed(rule), field=name)
    before, now = group.value(name), timezone.now()
    try:
        with transaction.atomic():
            _write(name, int(value) if rule.whole else float(value), version, now)
            audit.note(by=by, action="group_setting.change", subject=name, before=before, after=value)
    except IntegrityError:
        raise _stale() from None
    return now.isoformat()


def reset(*, by: Viewer, name: str, version: str) -> None:
    """Goes back to the house default. Raises as `change`."""
    policy.check_steward(by)
    rule = _rule(name)
    before = group.value(name)
    with transaction.atomic():
        gone, _ = GroupSetting.objects.filter(name=name, changed_at=_moment(version)).delete()
        if not gone:
            raise _stale()
        audit.note(by=by, action="group_setting.reset", subject=name, before=before, after=rule.default)


def allowed(rule: HouseRule) -> str:
    """What a rule takes, as a sentence."""
    kind = "whole number" if rule.whole else "number"
    return f"Give a {kind} from {rule.low:g} to {rule.high:g}."


def _write(name: str, value: float, version: str, now: datetime) -> None:
    if not version:
        GroupSetting(name=name, value=value).save(force_insert=True)
        GroupSetting.objects.filter(name=name).update(changed_at=now)
        return
    # a conditional UPDATE, because row locks are a silent no-op on SQLite
    same = GroupSetting.objects.filter(name=name, changed_at=_moment(version))
    if not same.update(value=value, changed_at=now):
        raise _stale()


def _rule(name: str) -> HouseRule:
    if name not in RULES:
        raise BenchnightError(
            "group_setting.unknown",
            f"There is no such setting; known: {', '.join(RULES)}.",
            kind="not_found",
            field="name",
        )
    return RULES[name]


def _moment(version: str) -> datetime:
    try:
        return datetime.fromisoformat(version)
    except ValueError:
        raise _stale() from None


def _stale() -> BenchnightError:
    return BenchnightError(
        "group_setting.stale",
        "Another steward changed this meanwhile. Look at the new value and repeat your change.",
        kind="conflict",
    )
