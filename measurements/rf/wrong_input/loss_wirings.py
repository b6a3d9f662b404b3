"""Wrong wirings of a transformer that S11 shows: turned round, resistor forgotten, one device for two."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import NOMINAL_OHM, format_ratio
from measurements.rf.request import Request
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep
from measurements.rf.wrong_input.expected_reflections import find_wrong_wiring

_LEAST_POINTS = 20
_IN_PHASE_DEG = 120.0  # off opposite: house default
_TURNED, _FORGOTTEN, _SINGLE, _OTHER = "turned", "forgotten", "single", "other"


def get_reflection(sweep: Sweep | None) -> Complexes | None:
    """Return S11 (F,) where it was measured with phase."""
    if sweep is None or sweep.magnitude_only or not sweep.measured[0, 0]:
        return None
    s11: Complexes = sweep.s[:, 0, 0]
    return s11


def _find(sweep: Sweep | None, right_ohm: float, wrong_ohm: Mapping[str, float]) -> str | None:
    s11 = get_reflection(sweep)
    if sweep is None or s11 is None:
        return None
    return find_wrong_wiring(sweep.freq_hz, s11, right_ohm, wrong_ohm)


def _flag_turned(request: Request) -> tuple[Flag, ...]:
    return (build_flag("driven_from_far_side", ratio=format_ratio(request.ratio)),)


def flag_loaded_wiring(request: Request, sweep: Sweep | None, role: str) -> tuple[Flag, ...]:
    """Return a device with its load across the far side (load_match, far_load): turned round, or another
    load.
    """
    ratio = float(request.ratio)
    load = request.load_ohm or ratio * NOMINAL_OHM
    found = _find(
        sweep,
        load / ratio,
        {_TURNED: load * ratio, _OTHER: NOMINAL_OHM / ratio, _SINGLE: NOMINAL_OHM * ratio},
    )
    if found in (_TURNED, _SINGLE):
        return _flag_turned(request)
    if found == _OTHER:
        return (build_flag("other_load", role=role, load_ohm=f"{load:g}"),)
    return ()


def flag_series_wiring(request: Request, sweep: Sweep | None) -> tuple[Flag, ...]:
    """Return a series_resistor sweep: the resistor forgotten, or the device turned round."""
    ratio = float(request.ratio)
    if ratio <= 1:
        return ()
    rs = (ratio - 1) * NOMINAL_OHM if request.series_ohm is None else request.series_ohm
    load = rs + NOMINAL_OHM
    wrong = {_FORGOTTEN: NOMINAL_OHM / ratio, _TURNED: load * ratio, _SINGLE: NOMINAL_OHM * ratio}
    found = _find(sweep, load / ratio, wrong)
    if found == _FORGOTTEN:
        return (build_flag("series_resistor_missing", series_ohm=f"{rs:g}"),)
    return _flag_turned(request) if found in (_TURNED, _SINGLE) else ()


def flag_straight_wiring(request: Request, sweep: Sweep | None) -> tuple[Flag, ...]:
    """Return a device straight between the ports (direct, renormalised): turned round."""
    ratio = float(request.ratio)
    found = _find(sweep, NOMINAL_OHM / ratio, {_TURNED: NOMINAL_OHM * ratio})
    return _flag_turned(request) if found == _TURNED else ()


def flag_halves_in_phase(phase_deg: Floats) -> tuple[Flag, ...]:
    """Return a balance test whose halves are in phase over most of the sweep. phase_deg: 0 for opposite (F,).

    The terminals of a balun are opposite. From a balanced terminal the other one is in phase with the
    unbalanced side where the far winding floats (ideal three-port: 0.707 and 0.5; closed form), and one
    terminal swept twice is as well.
    """
    known = np.abs(phase_deg[np.isfinite(phase_deg)])
    if known.size < _LEAST_POINTS or float(np.median(known)) < _IN_PHASE_DEG:
        return ()
    return (build_flag("halves_in_phase", phase_deg=f"{180 - float(np.median(known)):.0f}"),)


def flag_one_for_two(request: Request, sweep: Sweep | None, role: str) -> tuple[Flag, ...]:
    """Return a pair that is a single device: it shows the ratio that the second one would take back."""
    ratio = float(request.ratio)
    found = _find(sweep, NOMINAL_OHM, {_SINGLE: NOMINAL_OHM / ratio, _TURNED: NOMINAL_OHM * ratio})
    if found is None or sweep is None or sweep.ports < 2 or not sweep.measured[1, 0]:
        return ()
    alone = 2 * ratio**0.5 / (1 + ratio)  # |S21| of an ideal device between equal ports; a pair's is 1
    passes = float(np.median(np.abs(sweep.s[:, 1, 0])))
    return (build_flag("single_device_as_pair", role=role),) if passes < (1 + alone) / 2 else ()
