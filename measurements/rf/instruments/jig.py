"""The jig's own share of a common-mode sweep: through, open, short, and the floor.

- `jig_through` (closed on itself): S21 is divided by it.
- `jig_short` and `jig_open` (linked / nothing attached): Zdut = (Zm - Zs)/(1 - (Zm - Zs) Yo) with
  Yo = 1/(Zo - Zs), on the series-through impedances.
- the open jig is the floor: within 10 dB of it a reading can be 3 dB wrong.

A jig sweep is used only where it reaches: the test is cut to the jig's span when no band is lost by
that, and the jig sweep is left aside, with a flag, when one would be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import Band, resample_sweep
from measurements.rf.flags import Flag, build_flag, format_megahertz
from measurements.rf.networks.series_through import (
    ImpedanceMethod,
    choose_impedance_method,
    compute_series_admittance,
    compute_series_impedance,
    rejection_db,
)
from measurements.rf.networks.two_port import divide_or_nan
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

JIG_ROLES = ("jig_through", "jig_open", "jig_short")
FLOOR_MARGIN_DB = 10.0
_DEAD = 0.01  # 40 dB down: an analyser's leakage, not a connection
POOR_THROUGH_DB = 0.5  # house default: a jig that loses more was not calibrated out


@dataclass(frozen=True)
class UsableJig:
    """The jig sweeps that can be used for one test, and the span they leave of it."""

    sweeps: Mapping[str, Sweep]
    start_hz: float
    stop_hz: float
    flags: tuple[Flag, ...]

    def on(self, freq_hz: Floats) -> dict[str, Sweep]:
        """Return every usable jig sweep on the test's frequencies (F,), within the span."""
        return {role: resample_sweep(sweep, freq_hz) for role, sweep in self.sweeps.items()}


def select_jig_sweeps(sweeps: Mapping[str, Sweep], test: Sweep, bands: Sequence[Band]) -> UsableJig:
    """Return which jig sweeps reach far enough for `test`; the rest is flagged and left aside."""
    start, stop = float(test.freq_hz[0]), float(test.freq_hz[-1])
    kept: dict[str, Sweep] = {}
    flags: list[Flag] = []
    for role in JIG_ROLES:
        sweep = sweeps.get(role)
        if sweep is None:
            continue
        first, last = float(sweep.freq_hz[0]), float(sweep.freq_hz[-1])
        low, high = max(start, first), min(stop, last)
        if low >= high or _loses_a_band(low, high, test, bands):
            flags.append(
                build_flag("jig_span", role=role, start=format_megahertz(first), stop=format_megahertz(last))
            )
            continue
        kept[role] = sweep
        start, stop = low, high
    if (start, stop) != (test.freq_hz[0], test.freq_hz[-1]):
        flags.append(build_flag("jig_narrower", start=format_megahertz(start), stop=format_megahertz(stop)))
    return UsableJig(kept, start, stop, (*flags, *_incomplete(sweeps)))


def _loses_a_band(low_hz: float, high_hz: float, test: Sweep, bands: Sequence[Band]) -> bool:
    first, last = test.freq_hz[0], test.freq_hz[-1]
    for band in bands:
        reached = max(first, band.start_hz), min(last, band.stop_hz)
        if reached[0] < reached[1] and (reached[0] < low_hz or reached[1] > high_hz):
            return True
    return False


def _incomplete(sweeps: Mapping[str, Sweep]) -> tuple[Flag, ...]:
    missing = {"jig_open", "jig_short"} - set(sweeps)
    return (build_flag("jig_incomplete", missing=missing.pop()),) if len(missing) == 1 else ()


def normalise_by_through(
    test: Sweep, through: Sweep, *, field: str = "jig_through"
) -> tuple[Sweep, tuple[Flag, ...]]:
    """Return `test` with S21 (and S12, where both were measured) divided by the through's, same frequencies.

    Raises BenchnightError `jig.through_dead` where the through is 40 dB down or more at any point.
    """
    closed = through.column(1, 0, field=field)
    dead = np.flatnonzero(np.abs(closed) < _DEAD)
    if dead.size:
        at = format_megahertz(through.freq_hz[dead[0]])
        raise BenchnightError(
            "jig.through_dead",
            f"The through sweep of the jig shows hardly any signal at {at}. Close the jig on itself and "
            "sweep it again.",
            field=field,
        )
    s = test.s.copy()
    s[:, 1, 0] = divide_or_nan(test.s[:, 1, 0], closed)
    if test.measured[0, 1]:
        two_way = bool(through.measured[0, 1]) and bool((np.abs(through.s[:, 0, 1]) >= _DEAD).all())
        back = through.s[:, 0, 1] if two_way else closed
        s[:, 0, 1] = divide_or_nan(test.s[:, 0, 1], back)
    return replace(test, s=s), _poor(through.freq_hz, closed)


def _poor(freq_hz: Floats, closed: Complexes) -> tuple[Flag, ...]:
    loss_db = rejection_db(closed)
    at = int(np.argmax(loss_db))
    if loss_db[at] <= POOR_THROUGH_DB:
        return ()
    return (build_flag("jig_through_poor", loss_db=f"{loss_db[at]:.1f}", at=format_megahertz(freq_hz[at])),)


def compensate_jig(z_ohm: Complexes, opened: Sweep, shorted: Sweep, method: ImpedanceMethod) -> Complexes:
    """Return Zdut (F,) from Zm by the open and short jig sweeps on the same frequencies.

    Each jig sweep is converted by the test's method, or by S21 where it lacks the columns. An open jig
    that lets nothing through at all has Yo = 0. NaN where 1 = (Zm - Zs) Yo.
    Source: B&K Precision 889B manual, section 4.2, with the exact Yo = 1/(Zo - Zs).
    """
    z_short = compute_series_impedance(shorted, _method(shorted, method), field="jig_short")
    y_open = compute_series_admittance(opened, _method(opened, method), field="jig_open")
    shunt = divide_or_nan(y_open, 1 - y_open * z_short)
    inner = z_ohm - z_short
    return divide_or_nan(inner, 1 - inner * shunt)


def jig_floor_db(opened: Sweep) -> Floats:
    """Return rejection (F,) that the jig shows with nothing attached."""
    return rejection_db(opened.column(1, 0, field="jig_open"))


def _method(sweep: Sweep, method: ImpedanceMethod) -> ImpedanceMethod:
    complete = sweep.ports >= 2 and bool(sweep.measured[:2, :2].all())
    return "s21" if method == "y21" and not complete else choose_impedance_method(sweep, method)
