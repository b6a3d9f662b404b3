"""Random histories of a group's devices, made through services, for tests of what is kept of their states.

`judge_now` is the yardstick: it judges a device from everything that is stored, as its own page does.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CheckHold, Design, Device, DeviceState, DueMark, Inspection, KitChange, Test
from measurements.models.kept_states import build_state_waiting_condition
from measurements.selectors.upkeep import kept_states, service_states, upkeep_facts
from measurements.services.devices import devices, due_marks
from measurements.services.kit import handovers, kit_changes
from measurements.services.reference import benchmarks, group_settings
from measurements.services.releases import releases
from measurements.services.tests import moves, review, tests
from measurements.services.upkeep import inspections, state_keeping
from tests import factories

ITEMS = ("core", "terminals", "moisture", "enclosure")
EVENTS = ("storm", "lightning", "drop", "move")


def judge_now(steward: Viewer) -> dict[int, tuple[Any, ...]]:
    """What each device's own page says now, by row number, judged from everything that is stored."""
    found = list(service_states.select_devices())
    facts, rules = upkeep_facts.get_device_facts(steward, found), upkeep_facts.get_service_rules()
    repeats, on = service_states.build_repeatability_lookup(found), service_states.get_today()
    said = {}
    for device in found:
        row = service_states.judge_device(device, facts[device.pk], on, rules, repeats)
        newest = facts[device.pk].newest(*facts[device.pk].telling)
        codes = [reason.code for reason in row.reasons]
        day = None if newest is None else newest.measured_on
        said[device.pk] = (row.state, codes, row.reasons[0].message, row.next_step.message, row.due_on, day)
    return said


def read_kept(state: DeviceState) -> tuple[Any, ...]:
    return (state.state, state.codes, state.reason, state.next_step, state.due_on, state.newest_on)


def list_waiting() -> set[int]:
    standard = kept_states.get_standard()
    return set(Device.objects.filter(build_state_waiting_condition(standard)).values_list("pk", flat=True))


def keep_all() -> int:
    return state_keeping.keep_waiting_states(kept_states.judge_waiting_devices)


def find_wrong(steward: Viewer) -> dict[str, tuple[Any, Any]]:
    """Devices whose kept state claims to hold and is not what their own page says."""
    waiting, now = list_waiting(), judge_now(steward)
    rows = DeviceState.objects.exclude(device__in=waiting).select_related("device")
    both = {row.device.tag: (read_kept(row), now[row.device_id]) for row in rows}
    return {tag: pair for tag, pair in both.items() if pair[0] != pair[1]}


class History:
    """A group of two members and a steward, five devices, and a step at random."""

    def __init__(self, seed: int, today: date) -> None:
        self.random = random.Random(seed)
        self.today = today
        self.days = 0
        self.seed = 1000 * seed
        self.steward = factories.member("Stella", "steward")
        self.members = [factories.member("Ann"), factories.member("Bea")]
        self.designs = [factories.design(self.steward, turns=turns) for turns in (11, 12)]
        for number in range(5):
            owner = self.members[number % 2]
            self._make_sound(factories.device(owner, self.designs[number % 2], tag=f"D-{number}"), number)

    def _make_sound(self, device: str, number: int) -> None:
        on, self.seed = self.today - timedelta(days=40 * number), self.seed + 1
        data = factories.choke_s2p(1300 + 500 * number, seed=self.seed, points=61)
        factories.record(self.steward, device, data, measured_on=on)
        factories.readings(self.steward, device, measured_on=on)
        factories.look(self.steward, device, on)

    @property
    def now(self) -> date:
        return self.today + timedelta(days=self.days)

    def _device(self) -> Device:
        return self.random.choice(list(Device.objects.order_by("pk").select_related("contributor__member")))

    def _day(self) -> date:
        return self.today - timedelta(days=self.random.choice((0, 0, 1, 3, 30, 300, 365)))

    def _pick(self, rows: Any) -> Any:
        found = list(rows.order_by("pk"))
        return self.random.choice(found) if found else None

    def step(self) -> str:
        """Do one thing at random; answers what. A refusal of the service is a step without effect."""
        done: Callable[[], Any] = self.random.choices(
            [step for step, _ in self.STEPS], [weight for _, weight in self.STEPS]
        )[0]
        try:
            done(self)  # type: ignore[call-arg]
        except BenchnightError as error:
            return f"{done.__name__} refused: {error.code}"
        return done.__name__

    def sweep(self) -> None:
        device, self.seed = self._device(), self.seed + 1
        peak = self.random.choice((300, 1050, 1500, 2000, 3000, 5000))
        data = factories.choke_s2p(peak, seed=self.seed, points=61)
        factories.record(self.steward, device.key, data, measured_on=self._day())

    def repeat(self) -> None:
        """Sweep one device four times on a day: how well its owner's tests repeat."""
        device, day = self._device(), self._day()
        peak, spread = self.random.choice((1100, 3000)), self.random.choice((0.01, 0.2))
        for _ in range(4):
            self.seed += 1
            data = factories.choke_s2p(
                peak * (1 + spread * self.random.uniform(-1, 1)), seed=self.seed, points=61
            )
            factories.record(self.steward, device.key, data, measured_on=day)

    def read_ohms(self) -> None:
        factories.readings(self.steward, self._device().key, measured_on=self._day())

    def withdraw(self) -> None:
        test = self._pick(Test.objects)
        if test is not None:
            tests.withdraw_test(by=self.steward, test=test.key)

    def exclude(self) -> None:
        test = self._pick(Test.objects)
        if test is not None and test.excluded_reason:
            review.include_test(by=self.steward, test=test.key)
        elif test is not None:
            review.exclude_test(by=self.steward, test=test.key, reason="wrong leads")

    def move(self) -> None:
        test = self._pick(Test.objects)
        if test is not None:
            moves.move_test(by=self.steward, test=test.key, device=self._device().key)

    def inspect(self) -> None:
        device, day = self._device().key, self._day()
        if self.random.random() < 0.6:
            factories.look(self.steward, device, day)
        else:
            state = self.random.choice(("ok", "fault", "watch"))
            note = "dried" if state == "ok" else ""
            factories.look(self.steward, device, day, note=note, **{self.random.choice(ITEMS): state})

    def forget_inspection(self) -> None:
        look = self._pick(Inspection.objects)
        if look is not None:
            inspections.withdraw_inspection(by=self.steward, inspection=look.key)

    def mark(self) -> None:
        chosen = {self._device().key for _ in range(2)}
        event = self.random.choice(EVENTS)
        due_marks.mark_devices_due(by=self.steward, devices_marked=sorted(chosen), event=event, reason="it")

    def unmark(self) -> None:
        mark = self._pick(DueMark.objects)
        if mark is not None and self.random.random() < 0.5:
            due_marks.undo_marks(by=self.steward, batch=mark.batch)
        else:
            due_marks.clear_due_marks(by=self.steward, devices_marked=[self._device().key])

    def limit(self) -> None:
        benchmarks.change_benchmark(
            by=self.steward,
            kind="common_mode",
            metric="rejection_db",
            value=self.random.choice((18.0, 20.0, 24.0)),
            as_of=service_states.get_today(),
            source="the group's own",
        )

    def rule(self) -> None:
        name, value = self.random.choice(
            (("service_test_interval_days", 200), ("service_drift_db", 1.0), ("service_watch_margin_db", 2.0))
        )
        group_settings.change_group_setting(by=self.steward, name=name, value=value)

    def change_device(self) -> None:
        device = self._device()
        test = self._pick(device.tests)
        change: dict[str, Any] = self.random.choice(
            (
                {"design": self.random.choice(self.designs)},
                {"design": None},
                {"baseline": None if test is None else test.key},
                {"retired_on": self.random.choice((None, self.today))},
                {"place": self.random.choice(("Hill site", ""))},
            )
        )
        devices.update_device(by=self.steward, device=device.key, version=device.version, **change)

    def change_kit(self) -> None:
        change = self._pick(KitChange.objects.filter(undone_at=None))
        if change is not None:
            kit_changes.undo_change(by=self.steward, change=change.key)
        else:
            chosen = [self._device().key]
            kit_changes.change_devices(by=self.steward, chosen=chosen, changes={"due_event": "drop"})

    def hand_over(self) -> None:
        device = self._device()
        owner = next((who for who in self.members if who.member_id == device.contributor.member_id), None)
        if owner is None:
            return
        other = self.members[1 - self.members.index(owner)]
        offer = handovers.offer_device(by=owner, device=device.key, name=other.name)
        handovers.answer_offer(by=other, offer=offer, yes=True)

    def hold(self) -> None:
        """Hold what a steward measured on one day, or end a hold."""
        open_one = self._pick(CheckHold.objects.filter(ended_at=None))
        if open_one is not None:
            open_one.delete()
            return
        CheckHold.objects.create(
            test_key="x" * 12,
            kind="common_mode",
            method="",
            recorded_by_id=self.steward.member_id,
            measured_on=self._day(),
            findings=[],
            advice="",
        )

    def correct_design(self) -> None:
        """Write another principle into a design, as a correction of the table would."""
        design = Design.objects.get(key=self.designs[1])
        design.principle = "voltage" if design.principle == "current" else "current"
        design.save(update_fields=["principle"])

    def release(self) -> None:
        releases.make_release()

    def pass_days(self) -> None:
        self.days += self.random.choice((1, 1, 2, 25, 64, 199))

    STEPS = (
        (sweep, 6),
        (repeat, 4),
        (read_ohms, 3),
        (withdraw, 1),
        (exclude, 1),
        (move, 1),
        (inspect, 5),
        (forget_inspection, 1),
        (mark, 2),
        (unmark, 2),
        (limit, 1),
        (rule, 1),
        (change_device, 3),
        (change_kit, 1),
        (hand_over, 1),
        (hold, 2),
        (correct_design, 1),
        (release, 1),
        (pass_days, 5),
    )
