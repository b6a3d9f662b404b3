"""The fault search as a small decision graph: which step comes next, and what its findings support.

The order is that of the trade: look from the ground, sweep in the shack against commissioning, the line, the
device in its place, the bypass test, the bench (common practice, no source). Three tables decide everything:
`PATHS` orders the steps of a symptom, `ENDS` says after which findings nothing further is needed, and
`CONCLUSIONS` says which findings support which sentence. A conclusion holds only where every one of its
premises was found, and it names them. Findings that contradict each other are both named, and so is each step
that was not made.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

StepOutcomes = Mapping[str, str]
Premise = tuple[str, tuple[str, ...]]

PATHS: dict[str, tuple[str, ...]] = {
    "high_swr": (
        *("ground_look", "shack_sweep", "line", "line_parts", "inspection"),
        *("bypass", "dc", "load_test", "common_mode"),
    ),
    "rf_in_shack": ("ground_look", "line_parts", "inspection", "dc", "common_mode", "shack_sweep"),
    "noise": ("ground_look", "line_parts", "inspection", "dc", "common_mode", "shack_sweep"),
    "after_storm": (
        *("ground_look", "line_parts", "shack_sweep", "line", "inspection"),
        *("bypass", "dc", "load_test", "common_mode"),
    ),
    "after_transmitting": (
        *("ground_look", "shack_sweep", "line", "line_parts", "inspection"),
        *("dc", "load_test", "common_mode", "bypass"),
    ),
    "intermittent": (
        *("ground_look", "line_parts", "shack_sweep", "line", "inspection"),
        *("bypass", "dc", "load_test"),
    ),
    "weather": (
        "ground_look",
        "line_parts",
        "shack_sweep",
        "line",
        "inspection",
        "dc",
        "load_test",
        "bypass",
    ),
}
SYMPTOMS = tuple(PATHS)
SEARCH_PATHS = PATHS

# a step that a test answers -> its kind; an inspection, and steps that a choice answers, have none
STEP_KINDS: dict[str, str | None] = {
    "ground_look": None,
    "shack_sweep": None,
    "line": None,
    "line_parts": None,
    "inspection": None,
    "bypass": "in_situ",
    "dc": "dc",
    "load_test": "load_match",
    "common_mode": "common_mode",
}
BYPASS_OUTCOMES = (
    "device_makes_it_worse",
    "device_changes_nothing",
    "better_through_device",
    "inconclusive",
)
TEST_OUTCOMES = ("good", "bad", "mixed", "unclear")
CHOICES: dict[str, tuple[str, ...]] = {
    "ground_look": ("good", "watch", "fault", "danger"),
    "shack_sweep": ("as_commissioned", "changed", "unclear"),
    "line": ("good", "bad"),
    "line_parts": ("good", "plug_fault", "arrester_fault", "ground_fault"),
}
OUTCOMES: dict[str, tuple[str, ...]] = {
    **CHOICES,
    "inspection": ("good", "watch", "fault"),
    "bypass": (*BYPASS_OUTCOMES, "unclear"),
    "dc": ("good", "bad", "unclear"),
    "load_test": TEST_OUTCOMES,
    "common_mode": TEST_OUTCOMES,
}
SKIPPED = "skipped"

# after one of these nothing further is needed: mend it, or stay away, and then begin again
ENDS: dict[str, tuple[str, ...]] = {
    "ground_look": ("danger", "fault"),
    "line_parts": ("plug_fault", "arrester_fault", "ground_fault"),
    "inspection": ("fault",),
}
# (symptom or "", step, its outcome) -> steps that it makes needless
NEEDLESS: dict[tuple[str, str, str], tuple[str, ...]] = {
    ("", "load_test", "bad"): ("common_mode",),
    ("", "dc", "bad"): ("load_test", "common_mode"),
    ("", "line", "good"): ("line_parts",),
    ("high_swr", "bypass", "device_changes_nothing"): ("dc", "load_test", "common_mode"),
}


@dataclass(frozen=True)
class DeviceKind:
    """What the search has to know of the device. chokes: False for a voltage balun or an unun."""

    chokes: bool = True


@dataclass(frozen=True)
class StepAdvice:
    """The step to make, and why this one."""

    step: str
    why: str


@dataclass(frozen=True)
class ConclusionRule:
    """A sentence and what it rests on. premises: all must hold; symptoms: empty for every one."""

    code: str
    premises: tuple[Premise, ...]
    symptoms: tuple[str, ...] = ()
    is_fault: bool = True


@dataclass(frozen=True)
class Conclusion:
    """A conclusion with the findings that it rests on: (step, outcome), never more than those."""

    code: str
    premises: tuple[tuple[str, str], ...]
    is_fault: bool


OF_CURRENT = ("rf_in_shack", "noise")
DEVICE_STEP = "device"  # a premise that the design gives, not a step
CONCLUSIONS: tuple[ConclusionRule, ...] = (
    ConclusionRule("stay_away", (("ground_look", ("danger",)),)),
    ConclusionRule("seen_from_ground", (("ground_look", ("fault",)),)),
    ConclusionRule("plug_fault", (("line_parts", ("plug_fault",)),)),
    ConclusionRule("arrester_fault", (("line_parts", ("arrester_fault",)),)),
    ConclusionRule("ground_fault", (("line_parts", ("ground_fault",)),)),
    ConclusionRule("line_bad", (("line", ("bad",)),)),
    ConclusionRule("seen_fault", (("inspection", ("fault",)),)),
    ConclusionRule("does_not_conduct", (("dc", ("bad",)),)),
    ConclusionRule("transforms_wrong", (("load_test", ("bad",)),)),
    ConclusionRule("chokes_too_little", (("common_mode", ("bad",)),)),
    ConclusionRule("does_not_choke", ((DEVICE_STEP, ("does_not_choke",)),), OF_CURRENT),
    ConclusionRule("worse_in_place", (("bypass", ("device_makes_it_worse",)),)),
    ConclusionRule("device_changes_nothing", (("bypass", ("device_changes_nothing",)),), is_fault=False),
    ConclusionRule("better_through_device", (("bypass", ("better_through_device",)),), is_fault=False),
    ConclusionRule("changed_at_shack", (("shack_sweep", ("changed",)),), is_fault=False),
    ConclusionRule("as_commissioned_now", (("shack_sweep", ("as_commissioned",)),), is_fault=False),
    ConclusionRule("to_be_watched", (("inspection", ("watch",)),), is_fault=False),
    ConclusionRule("watch_from_ground", (("ground_look", ("watch",)),), is_fault=False),
    ConclusionRule("on_some_bands", (("common_mode", ("mixed",)),), is_fault=False),
    ConclusionRule("matches_on_some_bands", (("load_test", ("mixed",)),), is_fault=False),
)
# two findings that cannot both be the whole truth
CONTRADICTIONS: tuple[tuple[Premise, Premise], ...] = (
    (("bypass", ("device_changes_nothing",)), ("load_test", ("bad",))),
    (("bypass", ("device_changes_nothing",)), ("dc", ("bad",))),
    (("bypass", ("device_makes_it_worse",)), ("load_test", ("good",))),
    (("shack_sweep", ("as_commissioned",)), ("line", ("bad",))),
    (("shack_sweep", ("as_commissioned",)), ("bypass", ("device_makes_it_worse",))),
    (("dc", ("bad",)), ("load_test", ("good",))),
)
FINDINGS = (
    *(rule.code for rule in CONCLUSIONS),
    "contradiction",
    "elsewhere",
    "nothing_found",
    "nothing_known",
)

_WHYS: dict[str, str] = {
    "ground_look": "Look first, from the ground and from a distance: it costs nothing, and it may save your "
    "life.",
    "shack_sweep": "The sweep at the shack end of the line, beside that of commissioning, shows whether "
    "anything changed at all.",
    "line": "With a dummy load at its far end the line stands alone: antenna and device are out of it.",
    "line_parts": "Plugs, arrester and ground fail more often than any core.",
    "inspection": "Look at the device in its place, while it is still as the trouble left it.",
    "bypass": "With a plain jumper in place of the device, two sweeps show whether the device makes a "
    "difference.",
    "dc": "An ohmmeter finds a broken or shorted conductor; a common-mode sweep does not see it.",
    "load_test": "A resistor in place of the antenna takes the antenna out of it.",
    "common_mode": "A choke should hold back the current on the outside of the line: see whether it does.",
}


def list_path(symptom: str, device: DeviceKind) -> tuple[str, ...]:
    """List the steps of a symptom; a device that is not made to choke is not tested for it."""
    return tuple(step for step in PATHS[symptom] if device.chokes or step != "common_mode")


def advise_next_step(
    symptom: str,
    outcomes: StepOutcomes,
    device: DeviceKind = DeviceKind(),
) -> StepAdvice | None:
    """Return advise the next step, or None where it is enough. outcomes: step -> outcome, in the order
    made.
    """
    if any(outcomes.get(step) in ends for step, ends in ENDS.items()):
        return None
    needless = _list_needless(symptom, outcomes)
    for step in list_path(symptom, device):
        if step not in outcomes and step not in needless:
            return StepAdvice(step, _WHYS[step])
    return None


def conclude(
    symptom: str,
    outcomes: StepOutcomes,
    device: DeviceKind = DeviceKind(),
) -> tuple[Conclusion, ...]:
    """Conclude from the findings, the gravest first; each conclusion holds the premises it rests on."""
    known = dict(outcomes) if device.chokes else {**outcomes, DEVICE_STEP: "does_not_choke"}
    found = [
        Conclusion(rule.code, tuple((step, known[step]) for step, _ in rule.premises), rule.is_fault)
        for rule in CONCLUSIONS
        if (not rule.symptoms or symptom in rule.symptoms) and _holds(rule.premises, known)
    ]
    found += [
        Conclusion("contradiction", tuple((step, known[step]) for step, _ in pair), is_fault=False)
        for pair in CONTRADICTIONS
        if _holds(pair, known)
    ]
    return tuple(found) or tuple(_conclude_without_fault(symptom, outcomes))


def list_missing_steps(
    symptom: str,
    outcomes: StepOutcomes,
    device: DeviceKind = DeviceKind(),
) -> tuple[str, ...]:
    """List the steps of the path that gave no finding: passed over, unclear, or not reached."""
    told = {step for step, outcome in outcomes.items() if outcome not in _SILENT}
    return tuple(step for step in list_path(symptom, device) if step not in told)


def classify_test_outcome(
    kind: str, judged: list[bool | None], finding_said: str, believed: bool, band: str = ""
) -> str:
    """Return classify a test. judged: `meets` of the bands asked about; band: the one asked about, if any.

    Without a band, a device that is good on some bands and not on others is `mixed`: a choke for 40 m may do
    nothing on 160 m, and nobody has said which band matters.
    """
    if not believed:
        return "unclear"
    if kind == "in_situ":
        return finding_said if finding_said in BYPASS_OUTCOMES else "inconclusive"
    known = [meets for meets in judged if meets is not None]
    if not known:
        return "unclear"
    if all(known):
        return "good"
    return "mixed" if any(known) and not band else "bad"


_SILENT = (SKIPPED, "unclear", "inconclusive")


def _holds(premises: tuple[Premise, ...], known: StepOutcomes) -> bool:
    return all(known.get(step) in outcomes for step, outcomes in premises)


def _list_needless(symptom: str, outcomes: StepOutcomes) -> set[str]:
    return {
        needless
        for (of_symptom, step, outcome), steps in NEEDLESS.items()
        if of_symptom in ("", symptom) and outcomes.get(step) == outcome
        for needless in steps
    }


def _conclude_without_fault(symptom: str, outcomes: StepOutcomes) -> Iterator[Conclusion]:
    """Conclude where no step found anything: by what was good, and by nothing else."""
    good = tuple((step, outcome) for step, outcome in outcomes.items() if outcome not in _SILENT)
    choked = ("common_mode", "good")
    if symptom in OF_CURRENT and choked in good:
        yield Conclusion("elsewhere", (choked,), is_fault=False)
    elif good:
        yield Conclusion("nothing_found", good, is_fault=False)
    else:
        yield Conclusion("nothing_known", (), is_fault=False)
