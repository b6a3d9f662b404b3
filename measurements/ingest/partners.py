"""The trusted device of a `known_partner` test: its loss as an own insertion-loss test stored it."""

from __future__ import annotations

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import Ownership
from measurements.errors import BenchnightError
from measurements.models import NightOperator, Result, Test
from measurements.rf import packed_traces
from measurements.rf.loss_curve import LossCurve

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
    found = Result.objects.filter(test__key=key, current=True).values_list("trace_names", "traces").first()
    traces = packed_traces.unpack(*found) if found else {}
    if "loss_db" not in traces:
        raise _unusable()
    return LossCurve(
        freq_hz=traces["freq_hz"],
        loss_db=traces["loss_db"],
        assumption=ASSUMPTION,
        mismatch_db=traces.get("mismatch_db"),
        uncertainty_db=traces.get("uncertainty_db"),
    )


def _unusable() -> BenchnightError:
    return BenchnightError(
        "test.partner",
        "There is no insertion loss test of yours with this id. Store one of the trusted device first.",
        field="partner",
    )
