"""The guided path from a symptom to a finding: which step comes next, why, and when it is enough.

Common practice of fault finding: take the cheap test that halves the possibilities first. With the antenna in
doubt that is the bypass (device or antenna?); with radio frequency where it does not belong it is the
common-mode test; with the weather it is a look.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

StepCode = Literal["bypass", "load_test", "common_mode", "inspection"]
# what a step can come out as; the first four are those of the test at the antenna
StepOutcome = Literal[
    "device_at_fault",
    "antenna_or_line_at_fault",
    "no_fault_found",
    "inconclusive",
    "good",
    "bad",
    "unclear",
    "fault",
    "watch",
    "skipped",
]

SEARCH_PATHS: dict[str, tuple[StepCode, ...]] = {
    "high_swr": ("bypass", "load_test", "common_mode", "inspection"),
    "rf_in_shack": ("common_mode", "inspection", "bypass"),
    "noise": ("common_mode", "inspection", "bypass"),
    "weather": ("inspection", "bypass", "load_test", "common_mode"),
}
SYMPTOMS = tuple(SEARCH_PATHS)
STEP_KINDS: dict[StepCode, str | None] = {
    "bypass": "in_situ",
    "load_test": "load_match",
    "common_mode": "common_mode",
    "inspection": None,
}


@dataclass(frozen=True)
class StepAdvice:
    """The step to make, and why this one."""

    step: StepCode
    why: str


StepOutcomes = Mapping[str, str]

_FIRST_STEP_WHYS: dict[tuple[str, str], str] = {
    ("high_swr", "bypass"): "With a plain jumper in place of the device one test tells device from antenna.",
    (
        "rf_in_shack",
        "common_mode",
    ): "Current on the outside of the feed line is what a choke should stop: see whether it does.",
    (
        "noise",
        "common_mode",
    ): "Noise comes down the outside of the feed line: see whether the choke stops it.",
    ("weather", "inspection"): "What changes with the weather is mostly water, corrosion or a loose contact, "
    "and those can be seen.",
}
_LATER_STEP_WHYS: dict[tuple[str, str], str] = {
    (
        "load_test",
        "device_at_fault",
    ): "The device is at fault in its place. On the bench, with a resistor for "
    "an antenna, it shows whether it still transforms as it should.",
    ("load_test", "inconclusive"): "The two sweeps fit no simple explanation. A resistor in place of the "
    "antenna takes the antenna out of it.",
    ("load_test", "no_fault_found"): "Both were good just now. The bench shows faults that come and go.",
    (
        "load_test",
        "skipped",
    ): "Without the bypass test the bench has to tell: a resistor in place of the antenna.",
    (
        "common_mode",
        "good",
    ): "It transforms as it should. If it chokes too little, the feed line becomes part "
    "of the antenna, and the SWR moves with everything that touches it.",
    ("common_mode", "unclear"): "The load-match test said nothing. See whether it chokes.",
    ("common_mode", "skipped"): "Next, whether it chokes.",
    ("inspection", "bad"): "The figures are bad. Open it and look for the reason.",
    (
        "inspection",
        "good",
    ): "The figures are good. What is left can be seen: contacts, water, broken strands.",
    ("inspection", "unclear"): "The test said nothing. Look at it.",
    ("inspection", "skipped"): "What is left can be seen.",
    ("bypass", "good"): "There is nothing to be seen. One test at the antenna tells device from antenna.",
    (
        "bypass",
        "watch",
    ): "Something to be watched, no fault. One test at the antenna tells device from antenna.",
    ("bypass", "skipped"): "One test at the antenna tells device from antenna.",
}


def advise_next_step(symptom: str, outcomes: StepOutcomes) -> StepAdvice | None:
    """The next step, or None where it is enough. outcomes: step -> outcome, in the order they were made."""
    if _is_settled(outcomes):
        return None
    last = list(outcomes.values())[-1] if outcomes else ""
    for step in SEARCH_PATHS[symptom]:
        if step in outcomes or (step == "common_mode" and outcomes.get("load_test") == "bad"):
            continue
        if not outcomes:
            return StepAdvice(step, _FIRST_STEP_WHYS[symptom, step])
        return StepAdvice(step, _LATER_STEP_WHYS.get((step, last), "It is the next step on this path."))
    return None


def conclude_finding(symptom: str, outcomes: StepOutcomes) -> str:
    """What it comes to, the surest first. Call once `next_step` is None."""
    if outcomes.get("inspection") == "fault":
        return "seen_fault"
    if outcomes.get("bypass") == "antenna_or_line_at_fault":
        return "antenna_or_line"
    if outcomes.get("load_test") == "bad":
        return "transforms_wrong"
    if outcomes.get("common_mode") == "bad":
        return "chokes_too_little"
    if outcomes.get("bypass") == "device_at_fault":
        return "only_in_place"
    told = [
        step for step, outcome in outcomes.items() if outcome not in ("skipped", "unclear", "inconclusive")
    ]
    if not told:
        return "nothing_known"
    if symptom in ("rf_in_shack", "noise") and outcomes.get("common_mode") == "good":
        return "elsewhere"
    return "no_fault_found"


FINDINGS = (
    "seen_fault",
    "antenna_or_line",
    "transforms_wrong",
    "chokes_too_little",
    "only_in_place",
    "elsewhere",
    "nothing_known",
    "no_fault_found",
)


def classify_test_outcome(
    kind: str, judged: list[bool | None], finding_said: str, believed: bool
) -> StepOutcome:
    """What a test came out as. judged: `meets` of the bands asked about."""
    if not believed:
        return "unclear"
    if kind == "in_situ":
        return finding_said if finding_said in _IN_SITU_OUTCOMES else "inconclusive"  # type: ignore[return-value]
    known = [meets for meets in judged if meets is not None]
    if not known:
        return "unclear"
    return "good" if all(known) else "bad"


_IN_SITU_OUTCOMES = ("device_at_fault", "antenna_or_line_at_fault", "no_fault_found", "inconclusive")


def _is_settled(outcomes: StepOutcomes) -> bool:
    """A fault that was seen, or an antenna that is bad without the device, need no further step."""
    return outcomes.get("inspection") == "fault" or outcomes.get("bypass") == "antenna_or_line_at_fault"
