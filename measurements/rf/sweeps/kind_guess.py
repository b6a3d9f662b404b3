"""Guess what kind of test a lone sweep is, so that the page can ask whether that is right.

The limits are house defaults: a choke worth testing passes under a tenth of the power over most of its sweep,
a transformer on a matched jig most of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.sweeps.sweep import Sweep

REJECTS_DB, PASSES_DB = 10.0, 3.0
MATCHED_SWR, DETUNED_SWR = 3.0, 5.0


@dataclass(frozen=True)
class KindGuess:
    """kind: as in a test, None where the sweep alone does not tell. reason: one sentence with the figure."""

    kind: str | None
    reason: str


def guess_kind(sweep: Sweep) -> KindGuess:
    """Guess the kind from the medians of the sweep: S21 where it was measured, else S11."""
    if sweep.ports >= 3:
        return KindGuess("balance", "It has three ports.")
    if sweep.ports == 2 and sweep.measured[1, 0]:
        return _guess_from_transmission(sweep)
    return _guess_from_reflection(sweep)


def _guess_from_transmission(sweep: Sweep) -> KindGuess:
    magnitude = np.maximum(np.abs(sweep.s[:, 1, 0]), 1e-12)  # a dead column would be minus infinity
    median_db = float(np.median(-20 * np.log10(magnitude)))
    if median_db >= REJECTS_DB:
        return KindGuess("common_mode", f"Half of the sweep lets less through than -{median_db:.0f} dB.")
    if median_db <= PASSES_DB:
        return KindGuess("insertion_loss", f"Half of the sweep loses less than {median_db:.1f} dB.")
    return KindGuess(
        None, f"The median of |S21| is -{median_db:.1f} dB: a weak choke or a lossy way through."
    )


def _guess_from_reflection(sweep: Sweep) -> KindGuess:
    reflection = np.minimum(np.abs(sweep.s[:, 0, 0]), 0.9999)
    swr = (1 + reflection) / (1 - reflection)
    median = float(np.median(swr))
    if swr.min() < MATCHED_SWR and swr.max() > DETUNED_SWR and median > MATCHED_SWR:
        return KindGuess(
            None, f"The SWR goes from {swr.min():.1f} to {min(swr.max(), 999):.0f}, as an antenna's."
        )
    if median <= MATCHED_SWR:
        return KindGuess("load_match", f"Only S11 was measured, and half of it is below SWR {median:.1f}.")
    return KindGuess(None, "Only S11 was measured, and it is not near 50 ohm.")
