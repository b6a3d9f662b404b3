"""A test's sweep as the figures see it, to be taken elsewhere: merged, or free of its jig.

`merged`: a forward sweep and one with the device turned round as one full two-port, nothing else done to it.
`compensated`: a common-mode test after its jig's corrections, as the two-port of a series impedance at 50
ohm; Zcm is what the corrections leave, and what the device shunts to ground is not in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import cut_sweep
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments import jig
from measurements.rf.kinds import common_mode
from measurements.rf.networks import series_through
from measurements.rf.preparation import prepare_request
from measurements.rf.request import Request
from measurements.rf.sweeps.sweep import Sweep
from measurements.rf.sweeps.turned_sweeps import merge_turned_sweeps

_CORRECTION_SENTENCES = {
    "normalised": "divided by the jig's through (S21 of the test over S21 of the through)",
    "compensated": "jig's open and short taken out: Z = (Zm - Zs)/(1 - (Zm - Zs) Yo), Yo = 1/(Zo - Zs)",
}
_IMPEDANCE_SENTENCES = {
    "y21": "-1/Y21 of the full two-port",
    "s21": "2 sqrt(z1 z2)/S21 - (z1 + z2), from transmission alone",
    "s11": "z0 (1 + S11)/(1 - S11), from reflection alone with the far side shorted",
}


@dataclass(frozen=True)
class CorrectedSweep:
    """A sweep, and sentences that say how it came about."""

    sweep: Sweep
    said: tuple[str, ...]


def merge_test_sweeps(request: Request) -> CorrectedSweep:
    """Return the full two-port of `sweep` and `sweep_reversed`. Raises BenchnightError
    `corrected.not_turned`.
    """
    forward, turned = request.sweeps.get("sweep"), request.sweeps.get("sweep_reversed")
    if forward is None or turned is None:
        raise BenchnightError(
            "corrected.not_turned",
            "This test has no sweep with the device turned round, so there is nothing to merge. "
            "Take the file as it is.",
            field="form",
        )
    both = merge_turned_sweeps(forward, turned)
    said = "S11 and S21 from the sweep, S22 and S12 from the sweep with the device turned round."
    return CorrectedSweep(both, (said, *both.notes))


def compensate_test_sweep(request: Request) -> CorrectedSweep:
    """Return the device alone, at the frequencies where its jig reaches and Zcm exists.

    Raises BenchnightError `corrected.no_jig`, `corrected.no_phase`, and whatever the computation refuses.
    """
    if request.kind != "common_mode" or not set(jig.JIG_ROLES) & set(request.sweeps):
        raise BenchnightError(
            "corrected.no_jig",
            "Only a common-mode test with sweeps of its jig can be compensated. Take the file as it is.",
            field="form",
        )
    request, _ = prepare_request(request)
    test = request.sweep()
    method = series_through.choose_impedance_method(test, request.method)
    gear = jig.select_jig_sweeps(request.sweeps, test, request.bands)
    test = cut_sweep(test, gear.start_hz, gear.stop_hz)
    choke, _ = common_mode.measure_choke(test, method, gear.on(test.freq_hz), request.analyser)
    if choke.z_ohm is None or choke.label == "raw":
        raise _build_nothing_done(choke.z_ohm is None)
    z_ohm = choke.z_ohm[0]
    exists = np.isfinite(z_ohm)
    sweep = Sweep(
        freq_hz=test.freq_hz[exists],
        s=series_through.build_series_s(z_ohm[exists], NOMINAL_OHM),
        z0_ohm=np.full(2, NOMINAL_OHM),
        measured=np.ones((2, 2), dtype=bool),
        source="compensated",
    )
    said = (
        f"Series impedance of the device: {_IMPEDANCE_SENTENCES[method]}; "
        f"{_CORRECTION_SENTENCES[choke.label]}.",
        "Written as the two-port of that impedance in series between two ports of 50 ohm.",
        *(
            [f"{int((~exists).sum())} points without a finite impedance are left out."]
            if not exists.all()
            else []
        ),
    )
    return CorrectedSweep(sweep, said)


def _build_nothing_done(is_without_phase: bool) -> BenchnightError:
    if is_without_phase:
        return BenchnightError(
            "corrected.no_phase",
            "This sweep has no phase, so no impedance can be computed from it. Take the file as it is.",
            field="form",
        )
    return BenchnightError(
        "corrected.no_jig",
        "The jig's sweeps do not correct this one: they do not reach, or its open or short is missing.",
        field="form",
    )
