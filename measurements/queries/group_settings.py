"""What stewards set for their group, beside the house defaults: everybody may read it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from measurements.models import GroupSetting, group
from measurements.models.house_rules import RULES


@dataclass(frozen=True)
class GroupSettingRow:
    """A number of the group. changed_at: None while it is the house default; version: empty then."""

    name: str
    label: str
    value: float
    default: float
    low: float
    high: float
    unit: str
    meaning: str
    changed_at: datetime | None
    version: str

    @property
    def is_house_default(self) -> bool:
        return self.changed_at is None


def value(name: str) -> float:
    """The number in force; whole numbers as int. KeyError for a name that is no setting."""
    return group.value(name)


def values(*names: str) -> dict[str, float]:
    """Several numbers by name (all, where none is named), in one query."""
    return group.values(*names)


def listing() -> tuple[GroupSettingRow, ...]:
    """Every setting with its house default, in the order of the table."""
    changed = {row.name: row for row in GroupSetting.objects.all()}
    return tuple(_row(name, changed.get(name)) for name in RULES)


def _row(name: str, stored: GroupSetting | None) -> GroupSettingRow:
    rule = RULES[name]
    number = rule.default if stored is None else stored.value
    return GroupSettingRow(
        name=name,
        label=rule.label,
        value=int(number) if rule.whole else float(number),
        default=rule.default,
        low=rule.low,
        high=rule.high,
        unit=rule.unit,
        meaning=rule.meaning,
        changed_at=None if stored is None else stored.changed_at,
        version="" if stored is None else stored.changed_at.isoformat(),
    )
