"""Whether a sweep can be believed as a measurement of a passive, reciprocal device.

Analyser noise makes single points of a nearly lossless device look active, so excess is averaged over a
running tenth of the sweep (fifteen points at least) before it counts; a single point must be far out.
"""

from __future__ import annotations

import numpy as np

from .flags import Flag, flag, megahertz
from .sweep import Floats, Sweep

_ACTIVE = 0.005  # "beyond 0.5 %"
_ACTIVE_POINT = 0.03  # one point alone: seven times what a noise of 0.002 per S-parameter makes
_NOT_RECIPROCAL = 0.01  # of full transmission, on top of
_RECIPROCAL_GAIN = 0.02  # 2 % of the reading (0.17 dB): two calibrations agree no better
_WINDOW = 15


def of_sweep(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """Every flag that one sweep earns by itself.

    Jig and far-side sweeps serve a narrow purpose: that they lack columns is nothing to report.
    """
    return (
        *not_passive(sweep, role),
        *not_reciprocal(sweep, role),
        *(unmeasured(sweep, role) if role.startswith(("sweep", "pair_")) else ()),
        *((flag("magnitude_only", role=role),) if sweep.magnitude_only else ()),
    )


def not_passive(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """|S1j|^2 + |S2j|^2 + ... > 1 beyond 0.5 %, for any port j that was driven.

    With equal references this is the power that leaves over the power that enters; unmeasured
    columns count as nothing, so that what was measured decides alone.
    Source: microwaves101, loss factor: 1 - |S11|^2 - |S21|^2 >= 0 of a passive device.
    """
    power = np.where(sweep.measured, np.abs(sweep.s) ** 2, 0.0).sum(axis=1)
    for excess in (power - 1).T:
        at = _beyond(excess, _ACTIVE, _ACTIVE_POINT)
        if at is not None:
            percent, where = f"{100 * excess[at]:.2g}", megahertz(sweep.freq_hz[at])
            return (flag("not_passive", role=role, excess_percent=percent, at=where),)
    return ()


def not_reciprocal(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """S12 and S21 of a full two-port that differ by more than two calibrations would."""
    if sweep.ports != 2 or not sweep.measured.all() or sweep.magnitude_only:
        return ()
    forward, back = sweep.s[:, 1, 0], sweep.s[:, 0, 1]
    difference = np.abs(forward - back)
    excess = difference - _RECIPROCAL_GAIN * np.maximum(np.abs(forward), np.abs(back))
    at = _beyond(excess, _NOT_RECIPROCAL, 5 * _NOT_RECIPROCAL)
    if at is None:
        return ()
    return (
        flag(
            "not_reciprocal",
            role=role,
            difference=f"{difference[at]:.2g}",
            at=megahertz(sweep.freq_hz[at]),
        ),
    )


def unmeasured(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """The columns of a sweep that carry no measurement."""
    names = [f"S{i + 1}{j + 1}" for i, j in np.argwhere(~sweep.measured)]
    return (flag("unmeasured_columns", role=role, columns=" and ".join(names)),) if names else ()


def _beyond(excess: Floats, mean_limit: float, point_limit: float) -> int | None:
    """Index of the largest excess, if its running mean or a single point is beyond its limit."""
    width = min(max(_WINDOW, excess.size // 10), excess.size)
    total = np.concatenate([[0.0], np.cumsum(excess)])
    running = (total[width:] - total[:-width]) / width
    if running.max() > mean_limit or excess.max() > point_limit:
        return int(np.argmax(excess))
    return None
