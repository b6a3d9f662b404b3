"""What every insertion-loss method hands back: one device's loss over frequency.

All arrays have shape (F,) on `freq_hz` and are positive decibels; None means that the method
cannot know the quantity, NaN that one point of it is undefined.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .flags import Flag
from .sweep import Floats


@dataclass(frozen=True)
class LossCurve:
    """Loss of one device between Z0 and ratio x Z0.

    freq_hz: (F,) rising.
    loss_db: (F,) the figure that is judged.
    assumption: a sentence naming what the method takes for granted.
    judged: False where the figure must not be held against a limit (says why in `assumption`).
    mismatch_db, dissipative_db: (F,) the split of the loss, where S11 was measured.
    uncertainty_db: (F,) how far loss_db may be off (a bound, see residual_error.py), where it can be stated.
    halved_db: (F,) half of a pair's loss (back_to_back only).
    floor_db: what an ideal device would read by this method (direct, ratio not 1).
    flags: anything the method has to say.
    devices: label -> that device's own curve (pairs only; the outer curve is the first device's).
    residual_db: rms misfit of an over-determined set (pairs only).
    """

    freq_hz: Floats
    loss_db: Floats
    assumption: str
    judged: bool = True
    mismatch_db: Floats | None = None
    dissipative_db: Floats | None = None
    uncertainty_db: Floats | None = None
    halved_db: Floats | None = None
    floor_db: float | None = None
    flags: tuple[Flag, ...] = ()
    devices: Mapping[str, LossCurve] = field(default_factory=dict)
    residual_db: float | None = None
