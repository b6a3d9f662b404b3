"""The trusted device of a `known_partner` test: its loss as an own insertion-loss test stored it."""

from __future__ import annotations

import numpy as np

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import Ownership
from measurements.errors import BenchnightError
from measurements.models import NightOperator, Result, Test
from measurements.rf.loss_curve import LossCurve
from measurements.rf.sweep import Floats

ASSUMPTION = "As stored by an earlier test."


def seen(by: Viewer, key: str) -> LossCurve:
    """The stored loss of a test that `by` may see.

    Raises BenchnightError `test.partner`, the same for a test that is not there, not theirs or no loss.
    """
    test = Test.objects.select_related("device__contributor").filter(key=key, kind="insertion_loss").first()
    if test is None:
        raise _unusable()
    operators = NightOperator.objects.of_night(test.night_id)
    if not policy.can_see_test(by, Ownership(test.device.contributor.member_id, operators)):
        raise _unusable()
    return stored(key)


def stored(key: str) -> LossCurve:
    """The same without asking who wants it: for recomputing a test that named this partner."""
    traces = Result.objects.filter(test__key=key, current=True).values_list("traces", flat=True).first()
    if not traces or "loss_db" not in traces:
        raise _unusable()
    return LossCurve(
        freq_hz=_floats(traces["freq_hz"]),
        loss_db=_floats(traces["loss_db"]),
        assumption=ASSUMPTION,
        mismatch_db=_floats(traces["mismatch_db"]) if "mismatch_db" in traces else None,
        uncertainty_db=_floats(traces["uncertainty_db"]) if "uncertainty_db" in traces else None,
    )


def _floats(values: list[float | None]) -> Floats:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _unusable() -> BenchnightError:
    return BenchnightError(
        "test.partner",
        "There is no insertion loss test of yours with this id. Store one of the trusted device first.",
        field="partner",
    )
