"""Marks after an event, and what is still to be done before each of them is clear."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.fitness.checklist import ITEMS_BY_CODE
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.fitness.required_checks import find_through_test, find_work_test, list_required_bands
from measurements.fitness.service_facts import DeviceFacts, MarkFact
from measurements.fitness.test_facts import KIND_LABELS, TestFact


@dataclass(frozen=True)
class Missing:
    """What a mark still asks for. items: codes of the check list. bands: where its work was not tested since.

    through: whether its way through was not tested since.
    """

    items: tuple[str, ...] = ()
    bands: tuple[str, ...] = ()
    through: bool = False

    @property
    def any(self) -> bool:
        return bool(self.items or self.bands or self.through)


def list_standing_marks(device: DeviceFacts) -> list[tuple[MarkFact, Missing]]:
    """Return the marks that are not clear yet, the oldest first, each with what is missing."""
    marks = sorted(device.marks, key=lambda mark: mark.since)
    found = [(mark, find_missing(device, mark)) for mark in marks]
    return [(mark, missing) for mark, missing in found if missing.any]


def find_missing(device: DeviceFacts, mark: MarkFact) -> Missing:
    """Return what the event asks for and nobody has answered since."""
    event = DUE_EVENTS_BY_CODE[mark.event]
    bands = list_required_bands(device) if "work" in event.checks else ()
    return Missing(
        items=tuple(code for code in event.items if not _is_looked_at(device, mark, code)),
        bands=tuple(band for band in bands if not _is_tested(mark, find_work_test(device, band))),
        through="through_path" in event.checks and not _is_tested(mark, find_through_test(device)),
    )


def _is_looked_at(device: DeviceFacts, mark: MarkFact, code: str) -> bool:
    answer = device.items.get(code)
    if answer is None:
        return False
    return answer.state == "does_not_apply" or mark.is_before(answer.on, answer.recorded_at)


def _is_tested(mark: MarkFact, test: TestFact | None) -> bool:
    return test is not None and mark.is_before(test.measured_on, test.recorded_at)


def format_missing(device: DeviceFacts, missing: Missing) -> str:
    """Return what is still to be done, such as "look at core and terminals; test load match"."""
    parts = []
    if missing.items:
        parts.append(f"look at {_join([ITEMS_BY_CODE[code].title.lower() for code in missing.items])}")
    if missing.bands:
        kind = KIND_LABELS[device.work_kinds[0]].lower()
        parts.append(f"test {kind} on {_join(list(missing.bands))}")
    if missing.through:
        parts.append("test load match" + (", or the wires with an ohmmeter" if device.chokes else ""))
    return "; ".join(parts)


def _join(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
