"""The guide's page on keeping devices in service: what a state means, and what it is judged by."""

from __future__ import annotations

from typing import Any

from measurements.pages import words_of_upkeep
from measurements.queries import upkeep_rules
from measurements.verdict.checklist import ITEMS
from measurements.verdict.fault_path import PATHS
from measurements.verdict.repeatability import LEAST_DOF, REPEAT_WITHIN_DAYS
from measurements.verdict.service_facts import STATES

WHY_IN_THIS_ORDER = {
    "unserviceable": "A known fault comes first: it is not cured by being old, and a device that is both "
    "faulty "
    "and overdue must not be filed as overdue alone.",
    "untested": "Before overdue, because overdue says that it was good once, and nobody knows that.",
    "overdue": "Before watch: figures that are too old say little about today.",
    "watch": "It may stay in use while somebody looks again.",
    "serviceable": "With what it was found good for, and when something is due next.",
}


def context() -> dict[str, Any]:
    """States in their order, the group's numbers in force, the check list, the paths."""
    rules, limits = upkeep_rules.rules(), upkeep_rules.limits()
    return {
        "states": [(words_of_upkeep.STATES[state], WHY_IN_THIS_ORDER[state]) for state in STATES],
        "rules": rules,
        "limits": limits,
        "items": ITEMS,
        "least_dof": LEAST_DOF,
        "repeat_within_days": REPEAT_WITHIN_DAYS,
        "paths": [
            (words_of_upkeep.SYMPTOMS[symptom][0], [words_of_upkeep.STEPS[step] for step in steps])
            for symptom, steps in PATHS.items()
        ],
    }
