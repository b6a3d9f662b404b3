"""The curves of the viewer's own devices of a design: theirs alone, never part of what others are sent."""

from __future__ import annotations

import numpy as np

from measurements.disclosure.circles import Viewer
from measurements.models import Result
from measurements.queries import curves
from measurements.queries.rows import OwnCurveRow
from measurements.rf.grid import GRID_HZ

MOST = 3  # more lines over a design's range are no longer told apart
_CURVE = np.dtype("<c8")


def of_design(viewer: Viewer, key: str) -> tuple[OwnCurveRow, ...]:
    """The newest common-mode curve of each own device of the design, the last tested first, at most three.

    A steward's own ones only, like everybody's. Nothing for who is not signed in.
    """
    if not viewer.signed_in:
        return ()
    found = (
        Result.objects.filter(
            current=True,
            test__kind="common_mode",
            test__device__design__key=key,
            test__device__contributor__member=viewer.member_id,
        )
        .exclude(evidence_curve=b"")
        .order_by("-test__measured_on", "-test__pk")
        .values_list("test__device__key", "test__device__tag", "test__key", "evidence_curve")
    )
    newest: dict[str, OwnCurveRow] = {}
    for device, tag, test, curve in found:
        if device not in newest:
            newest[device] = _row(device, tag, test, bytes(curve))
        if len(newest) == MOST:
            break
    return tuple(newest.values())


def _row(device: str, tag: str, test: str, curve: bytes) -> OwnCurveRow:
    z_ohm = np.frombuffer(curve, _CURVE).astype(np.complex128)
    return OwnCurveRow(
        device=device,
        tag=tag,
        test=test,
        freq_hz=tuple(GRID_HZ),
        rejection_db=curves.listed(curves.rejection_db(z_ohm), 2),
        resistance_ohm=curves.listed(z_ohm.real, 1),
        reactance_ohm=curves.listed(z_ohm.imag, 1),
        impedance_ohm=curves.listed(np.abs(z_ohm), 1),
    )
