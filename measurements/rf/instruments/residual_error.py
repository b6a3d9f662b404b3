"""From a stated residual error of a reflection to an uncertainty of a loss in decibels.

After calibration an analyser still reads every reflection wrong by a small complex number of unknown phase
(house default 0.01: a directivity of 40 dB). Here the loss is computed again with each input moved by that
amount in eight directions; the largest change of each input counts, and the inputs are added up as if
their errors conspired, which they may (one calibration serves all sweeps). It is a bound, not a standard
deviation. Finite moves are used, not derivatives, because near a resonance 0.01 is not small.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from measurements.rf.networks import two_port
from measurements.rf.sweeps.sweep import Complexes, Floats

DEFAULT_RESIDUAL_ERROR = 0.01
ERROR_DIRECTIONS: Complexes = np.exp(2j * np.pi * np.arange(8) / 8)


def largest_change_db(loss_db: Callable[..., Floats], inputs: tuple[Complexes, ...], error: float) -> Floats:
    """(F,) decibels by which `loss_db(*inputs)` may be wrong if each (F,) input is wrong by `error`.

    NaN where the loss, or the loss of a moved input, is not defined: there nothing can be promised.
    """
    nominal_db = loss_db(*inputs)
    total_db = np.zeros(nominal_db.shape)
    for position, value in enumerate(inputs):
        largest_db = np.zeros(nominal_db.shape)
        for direction in ERROR_DIRECTIONS:
            moved = (*inputs[:position], value + error * direction, *inputs[position + 1 :])
            largest_db = np.maximum(largest_db, np.abs(loss_db(*moved) - nominal_db))
        total_db = total_db + largest_db
    return total_db


def joint_change_db(first: Floats | float, second: Floats | float) -> Floats:
    """The mismatch bound of one joint, -20 log10(1 - |G1 G2|): the larger side of 20 log10(1 +/- |G1 G2|).

    first, second: magnitudes of the two reflections that meet. NaN where their product reaches 1.
    Source: closed form.
    """
    product = np.abs(np.asarray(first, float) * np.asarray(second, float))
    return two_port.loss_db(1.0 - np.where(product < 1, product, np.nan))


def transmission_change_db(s11: Floats | float, s22: Floats | float, error: float) -> Floats:
    """(F,) bound on a reading of |S21| between ports whose residual match is `error` on either side."""
    return joint_change_db(error, s11) + joint_change_db(error, s22)
