"""The kinds of test that become evidence, the metric of each, and by which a design is judged first.

Source: the trade page, section 7: chokes and current baluns by rejection, then loss and match; voltage baluns
and ununs by loss and match.
"""

from __future__ import annotations

from measurements.verdict.metric import LOSS, REJECTION, SWR, Metric

COMMON_MODE, INSERTION_LOSS, LOAD_MATCH = "common_mode", "insertion_loss", "load_match"

EVIDENCE_METRICS: dict[str, Metric] = {COMMON_MODE: REJECTION, INSERTION_LOSS: LOSS, LOAD_MATCH: SWR}

EVIDENCE_KINDS = tuple(EVIDENCE_METRICS)


def list_judged_kinds(purpose: str, principle: str) -> tuple[str, ...]:
    """List the kinds of test that a design is judged by, the one that matters most first.

    An unun chokes nothing, and a voltage balun hardly anything: both transform, so they are judged by loss
    and match alone. Everything else is there to choke; a hybrid balun is a voltage balun behind a choke.
    """
    if purpose == "unun" or principle == "voltage":
        return INSERTION_LOSS, LOAD_MATCH
    return COMMON_MODE, INSERTION_LOSS, LOAD_MATCH


def get_first_kind(purpose: str, principle: str) -> str:
    """Get the kind of test that a design is judged by first."""
    return list_judged_kinds(purpose, principle)[0]
