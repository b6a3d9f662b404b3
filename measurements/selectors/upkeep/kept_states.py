"""Which kept service states still hold, and the judging of those that do not.

Nothing is written here: `services.upkeep.state_keeping` keeps what this module judges.
"""

from __future__ import annotations

import hashlib
import inspect
import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from measurements.disclosure.viewers import Viewer
from measurements.fitness.kept_state import KeptState, judge_kept_state
from measurements.fitness.service_facts import ServiceCase
from measurements.models import Device, DeviceState, PublishedPool, StateChange
from measurements.models.kept_states import JudgingStandard, build_state_waiting_condition
from measurements.selectors.devices import devices
from measurements.selectors.upkeep import repeatability, service_states, upkeep_facts
from measurements.selectors.upkeep.service_states import RepeatabilityLookup
from measurements.verdict import repeatability as pooled_repeatability

MOST_AT_ONCE = 100  # devices judged in one step: on SQLite nobody else writes meanwhile
MOST_OWNERS = 50  # owners whose repeats are compared in one step


@dataclass(frozen=True)
class JudgedStates:
    """What one step of judging found, ready to be kept.

    states: row number of the device -> its state. standard: what they were judged by. seen: changes that
    these states take in. unmoved: devices whose state holds although the group's pool is another one now.
    moved: devices to be judged anew, since tests of their owner repeat better or worse than before.
    """

    states: Mapping[int, KeptState]
    standard: JudgingStandard
    seen: Collection[int] = ()
    unmoved: Collection[int] = ()
    moved: Collection[int] = ()


def get_standard() -> JudgingStandard:
    """Return what a kept state has to fit to be good now."""
    limits, rules = upkeep_facts.get_limits_by_kind(), upkeep_facts.get_service_rules()
    given = json.dumps([sorted(limits.items()), vars(rules)], sort_keys=True)
    digest = hashlib.sha256(f"{_hash_rules()}{given}".encode()).hexdigest()[:16]
    newest = PublishedPool.objects.filter(name="repeatability").order_by("-release")
    return JudgingStandard(
        digest, service_states.get_today(), newest.values_list("pk", flat=True).first() or 0
    )


@cache
def _hash_rules() -> str:
    """Hash the code that judges: a server with newer rules keeps no state of the older ones."""
    files = sorted(resources.files("measurements.fitness").iterdir(), key=lambda file: file.name)
    parts = [file.read_bytes() for file in files if file.name.endswith(".py")]
    modules = (pooled_repeatability, repeatability, upkeep_facts)
    parts += [inspect.getsource(module).encode() for module in modules]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def count_waiting_devices(standard: JudgingStandard | None = None) -> int:
    """Count the devices without a kept state that is good now."""
    return _filter_waiting(standard or get_standard()).count()


def has_waiting_devices(viewer: Viewer) -> bool:
    """Tell whether a device that the viewer sees has no kept state that is good now."""
    seen = devices.build_device_visibility(viewer)
    return _filter_waiting(get_standard()).filter(seen).exists()


def has_work() -> bool:
    """Tell whether a device waits, or a change is noted: a look that takes no lock."""
    return StateChange.objects.exists() or _filter_waiting(get_standard()).exists()


def _filter_waiting(standard: JudgingStandard) -> QuerySet[Device]:
    return Device.objects.filter(build_state_waiting_condition(standard))


def judge_waiting_devices(viewer: Viewer | None = None, *, most: int = MOST_AT_ONCE) -> JudgedStates:
    """Judge the first devices that wait, or compare the repeats of owners whose tests changed.

    viewer: judge only what this viewer sees; None: whatever waits. Changes are read before facts: what
    commits in between stays noted and is judged the next time.
    """
    standard = get_standard()
    compared = _compare_repeats(standard)
    if compared is not None:
        return compared
    asked = _filter_waiting(standard)
    if viewer is not None:
        asked = asked.filter(devices.build_device_visibility(viewer))
    waiting = list(asked.order_by("pk").values_list("pk", flat=True)[:most])
    seen = StateChange.objects.filter(device_number__in=waiting).values_list("pk", flat=True)
    return (
        JudgedStates(states={}, standard=standard) if not waiting else _judge(waiting, list(seen), standard)
    )


def _judge(waiting: list[int], seen: list[int], standard: JudgingStandard) -> JudgedStates:
    found = list(service_states.select_devices().filter(pk__in=waiting))
    return JudgedStates(judge_states(found, standard), standard, seen)


def judge_states(found: list[Device], standard: JudgingStandard) -> dict[int, KeptState]:
    """Judge these devices out of all their tests, in a fixed number of queries."""
    facts, rules = upkeep_facts.get_all_device_facts(found), upkeep_facts.get_service_rules()
    yardsticks = service_states.build_repeatability_lookup(found)
    states = {}
    for device in found:
        asked = _AskedRepeats(yardsticks, device.contributor_id)
        case = ServiceCase(facts[device.pk], rules, standard.on, asked.get_real_changes)
        states[device.pk] = judge_kept_state(case, asked.digests)
    return states


@dataclass
class _AskedRepeats:
    """How well an owner's tests repeat, and which kinds of it one judging asked for."""

    yardsticks: RepeatabilityLookup
    contributor: int
    digests: dict[str, str] = field(default_factory=dict)

    def get_real_changes(self, kind: str) -> Mapping[str, float]:
        found = self.yardsticks(self.contributor, kind).real_from_db
        self.digests[kind] = _hash_repeats(found)
        return found


def _hash_repeats(real_from_db: Mapping[str, float]) -> str:
    return hashlib.sha256(json.dumps(sorted(real_from_db.items())).encode()).hexdigest()[:16]


# An owner's tests are the yardstick of all devices of this owner: a new test may touch every one of them.


def _compare_repeats(standard: JudgingStandard) -> JudgedStates | None:
    """Compare the repeats that kept states used with those of today; None where there is nothing to do."""
    owners = _list_owners(standard)
    if not owners:
        return None
    changes = StateChange.objects.filter(contributor_number__in=owners)
    seen = list(changes.values_list("pk", flat=True))
    kept = DeviceState.objects.filter(device__contributor__in=owners, asks_repeats=True)
    rows = list(kept.values_list("device_id", "device__contributor_id", "repeats"))
    now = _hash_owners_repeats({owner for _, owner, _ in rows}, rows)
    moved = [
        device for device, owner, asked in rows if any(now[owner, kind] != asked[kind] for kind in asked)
    ]
    unmoved = [device for device, *_ in rows if device not in set(moved)]
    return JudgedStates({}, standard, seen, unmoved, moved)


def _list_owners(standard: JudgingStandard) -> list[int]:
    """List owners whose tests changed, and those whose devices were judged by an older pool."""
    changed = StateChange.objects.exclude(contributor_number=None).order_by("pk")
    owners = dict.fromkeys(changed.values_list("contributor_number", flat=True)[: 20 * MOST_OWNERS])
    asking = DeviceState.objects.filter(asks_repeats=True).exclude(pool=standard.pool)
    noted = StateChange.objects.filter(device_number=OuterRef("device_id"))
    asking = asking.filter(~Exists(noted)).order_by("device__contributor_id")
    rows = asking.values_list("device__contributor_id", flat=True).distinct()[:MOST_OWNERS]
    return list(dict.fromkeys([*owners, *rows]))[:MOST_OWNERS]


def _hash_owners_repeats(
    owners: Collection[int], rows: list[tuple[int, int, dict[str, Any]]]
) -> dict[tuple[int, str], str]:
    kinds = sorted({kind for *_, asked in rows for kind in asked})
    found = {kind: repeatability.get_repeatabilities(owners, kind) for kind in kinds}
    return {
        (owner, kind): _hash_repeats(by_owner[owner].real_from_db)
        for kind, by_owner in found.items()
        for owner in owners
    }
