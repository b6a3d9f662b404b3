"""The last answer to each item of the check list, and to each kind of test on each band.

Every answer keeps its own day. A fault stands until that item is answered good with what was done, or that
band is tested good again; another item, another band and another kind change nothing of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from measurements.fitness.checklist import ITEMS_BY_CODE
from measurements.fitness.test_facts import BandFact, TestFact

BENCH_KINDS = ("common_mode", "load_match", "insertion_loss", "balance")


@dataclass(frozen=True)
class InspectionFact:
    """One inspection. states: item -> its answer. said: items whose note says something.

    recorded_at: when it was stored; a mark made later asks for a later one.
    """

    inspected_on: date
    states: Mapping[str, str]
    said: frozenset[str] = frozenset()
    recorded_at: datetime | None = None


def build_inspection_fact(
    inspected_on: date, findings: Mapping[str, Mapping[str, str]], recorded_at: datetime | None
) -> InspectionFact:
    """Return the fact of a stored inspection. findings: item -> {"state", "note"}."""
    return InspectionFact(
        inspected_on,
        {item: given["state"] for item, given in findings.items()},
        frozenset(item for item, given in findings.items() if given.get("note", "").strip()),
        recorded_at,
    )


@dataclass(frozen=True)
class ItemAnswer:
    """The last answer to an item. mended_on: the day on which a fault of it was answered good.

    repeated_without_word: a later answer called a fault good without what was done, so the fault stands.
    """

    code: str
    state: str
    on: date
    recorded_at: datetime | None = None
    mended_on: date | None = None
    repeated_without_word: bool = False


def collect_item_answers(inspections: Iterable[InspectionFact]) -> dict[str, ItemAnswer]:
    """Return the last answer to each item that was ever answered. inspections: in any order."""
    found: dict[str, ItemAnswer] = {}
    for look in sorted(inspections, key=lambda each: each.inspected_on):
        for code, state in look.states.items():
            answer = _follow(found.get(code), code, state, look)
            if answer is not None:
                found[code] = answer
    return found


def _follow(before: ItemAnswer | None, code: str, state: str, look: InspectionFact) -> ItemAnswer | None:
    """Return the answer that counts after a look; None where this one says nothing of the item."""
    item = ITEMS_BY_CODE.get(code)
    if state == "not_looked" or (state == "does_not_apply" and item is not None and item.always):
        return before
    mended_on = None if before is None else before.mended_on
    if before is not None and before.state == "fault" and state != "fault":
        if state != "ok" or code not in look.said:
            return replace(before, repeated_without_word=state == "ok" or before.repeated_without_word)
        mended_on = look.inspected_on
    elif before is not None and before.state == "watch" and state == "does_not_apply":
        return before
    return ItemAnswer(code, state, look.inspected_on, look.recorded_at, mended_on)


@dataclass(frozen=True)
class Judged:
    """A band of a test that decided something, or that came too close to its limit to decide."""

    test: TestFact
    band: BandFact


@dataclass(frozen=True)
class BandAnswer:
    """The last answers of a kind on a band. judged: the newest that met or fell short.

    too_close: a newer one that could not decide. met: the newest that met. first: the oldest that decided.
    """

    kind: str
    band: str
    judged: Judged | None = None
    too_close: Judged | None = None
    met: Judged | None = None
    first: Judged | None = None

    @property
    def meets(self) -> bool | None:
        """Say what the newest decision is; None where none was taken."""
        return None if self.judged is None else self.judged.band.meets

    @property
    def newest(self) -> Judged | None:
        return self.too_close or self.judged


@dataclass(frozen=True)
class CheckAnswers:
    """by_kind: kind -> band -> its last answers. dc: the newest ohmmeter test that says something."""

    by_kind: Mapping[str, Mapping[str, BandAnswer]] = field(default_factory=dict)
    dc: TestFact | None = None

    def of(self, *kinds: str) -> tuple[BandAnswer, ...]:
        """Return the answers of these kinds, in the order of kinds and bands."""
        return tuple(answer for kind in kinds for answer in self.by_kind.get(kind, {}).values())

    def on_band(self, band: str, *kinds: str) -> tuple[BandAnswer, ...]:
        """Return the answers of these kinds on a band."""
        return tuple(answer for answer in self.of(*kinds) if answer.band == band)


def collect_check_answers(tests: Iterable[TestFact]) -> CheckAnswers:
    """Return the last answers out of tests that are believed. tests: the newest first."""
    by_kind: dict[str, dict[str, BandAnswer]] = {}
    dc: TestFact | None = None
    for test in reversed(tuple(tests)):
        if not test.believed:
            continue
        if test.dc is not None:
            dc = test if test.dc.meets is not None else dc
        elif test.kind in BENCH_KINDS:
            bands = by_kind.setdefault(test.kind, {})
            for band in test.bands:
                before = bands.get(band.band, BandAnswer(test.kind, band.band))
                bands[band.band] = _add_band(before, Judged(test, band))
    return CheckAnswers({kind: _drop_empty(bands) for kind, bands in by_kind.items()}, dc)


def _add_band(before: BandAnswer, now: Judged) -> BandAnswer:
    if now.band.meets is not None:
        met = now if now.band.meets else before.met
        return replace(before, judged=now, too_close=None, met=met, first=before.first or now)
    return replace(before, too_close=now) if now.band.too_close else before


def _drop_empty(bands: Mapping[str, BandAnswer]) -> dict[str, BandAnswer]:
    return {name: answer for name, answer in bands.items() if answer.newest is not None}
