"""Stewards set the numbers of their group; the audit log holds the earlier ones."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import GroupSetting, group_settings
from measurements.models.group_settings import SETTING_RULES, SettingRule
from measurements.services.operations import audit


def change_group_setting(*, by: Viewer, name: str, value: float, version: str = "") -> str:
    """Set a number and answer its new version.

    version: that of the row as it was read, empty while it is the house default.
    Raises BenchnightError `group_setting.unknown`, `group_setting.value` (with what is allowed), and
    `group_setting.stale` when somebody changed it meanwhile.
    """
    policy.check_steward(by)
    rule = _rule(name)
    if not rule.allows(value):
        raise BenchnightError("group_setting.value", describe_allowed_values(rule), field=name)
    before, now = group_settings.get_group_setting(name), timezone.now()
    try:
        with transaction.atomic():
            _write(name, int(value) if rule.whole else float(value), version, now)
            audit.record_action(
                by=by, action="group_setting.change", subject=name, before=before, after=value
            )
    except IntegrityError:
        raise _build_stale_error() from None
    return now.isoformat()


def reset_group_setting(*, by: Viewer, name: str, version: str) -> None:
    """Go back to the house default. Raises as `change`."""
    policy.check_steward(by)
    rule = _rule(name)
    before = group_settings.get_group_setting(name)
    with transaction.atomic():
        gone, _ = GroupSetting.objects.filter(name=name, changed_at=_moment(version)).delete()
        if not gone:
            raise _build_stale_error()
        audit.record_action(
            by=by, action="group_setting.reset", subject=name, before=before, after=rule.default
        )


def describe_allowed_values(rule: SettingRule) -> str:
    """Describe the values that a rule takes, as a sentence."""
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
        raise _build_stale_error()


def _rule(name: str) -> SettingRule:
    if name not in SETTING_RULES:
        raise BenchnightError(
            "group_setting.unknown",
            f"There is no such setting; known: {', '.join(SETTING_RULES)}.",
            kind="not_found",
            field="name",
        )
    return SETTING_RULES[name]


def _moment(version: str) -> datetime:
    try:
        return datetime.fromisoformat(version)
    except ValueError:
        raise _build_stale_error() from None


def _build_stale_error() -> BenchnightError:
    return BenchnightError(
        "group_setting.stale",
        "Another steward changed this meanwhile. Look at the new value and repeat your change.",
        kind="conflict",
    )
