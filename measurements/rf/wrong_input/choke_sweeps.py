"""Common-mode sweeps that are not those of a series impedance at the clips.

A series impedance between the ports gives S11 + S21 = 1 at every frequency (closed form). Line length, loss
or gain that calibration did not take out breaks it, though rejection hardly moves; Zcm is then worthless.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.flags import Flag, build_flag, format_megahertz
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments.assumed_errors import (
    STRAY_F,
    AssumedErrors,
    bound_stray,
    is_beyond,
)
from measurements.rf.networks import series_through, two_port
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

_FITTED_STRAY_F = 13e-12  # most that is fitted: 20 cm of cable look like 20 pF, and are no stray
_UNEVEN_F = 3e-12  # by which the clips' strays to ground differ
_LOW_END = 2.0  # the lowest octave tells inductive from capacitive
_DIP, _RISE = 0.3, 0.6  # |S11|: an SWR of 1.9 at the dip, 4 on both sides of it
_MATCHED = 0.33  # |S11| of an SWR of 2
_SMALL_OHM = 500.0


@dataclass(frozen=True)
class SeriesMisfit:
    """(F,) each: |S11 + S21 - 1| (the larger of both ends), and its bound for an honest sweep."""

    misfit: Floats
    bound: Floats


def has_both_columns(sweep: Sweep) -> bool:
    """Say whether S11 and S21 were measured, with phase."""
    two = sweep.ports >= 2 and bool(sweep.measured[0, 0]) and bool(sweep.measured[1, 0])
    return two and not sweep.magnitude_only


def measure_series_misfit(sweep: Sweep, errors: AssumedErrors) -> SeriesMisfit:
    """Measure how far a sweep with `has_both_columns` is from S11 + S21 = 1.

    The stray of the clips to ground is fitted and taken off first, up to 13 pF: a cable of 20 cm looks like
    more. In a full two-port each end has its own; elsewhere both are taken to be alike, which makes
    S11 + S21 = (1 - y)/(1 + y) with y = j omega C Z0 whatever the device is (even mode, closed form).
    """
    near, through = np.abs(sweep.s[:, 0, 0]), np.abs(sweep.s[:, 1, 0])
    bound = errors.bound_reflection(near) + errors.bound_transmission(through, near, 1.0) + errors.noise
    if sweep.ports == 2 and sweep.measured.all():
        s = _take_off_stray(sweep)
        ends = np.abs(s[:, 0, 0] + s[:, 1, 0] - 1), np.abs(s[:, 1, 1] + s[:, 0, 1] - 1)
        return SeriesMisfit(np.fmax(*ends), bound)
    misfit = np.abs(_fit_common_stray(sweep.freq_hz, sweep.s[:, 0, 0] + sweep.s[:, 1, 0]))
    return SeriesMisfit(misfit, bound + bound_stray(sweep.freq_hz, _UNEVEN_F) * through)


def _fit_common_stray(freq_hz: Floats, total: Complexes) -> Complexes:
    """Return the misfit of S11 + S21 (F,) to (1 - y)/(1 + y), with the capacitance that fits best."""
    model = np.asarray(-2j * np.pi * freq_hz * NOMINAL_OHM, np.complex128)  # -y, but for the capacitance
    size = float(np.sum(np.abs(2 * model) ** 2))
    fitted = float(np.sum(np.conj(2 * model) * (total - 1)).real) / size if size > 0 else 0.0
    y = -model * min(max(fitted, 0.0), _FITTED_STRAY_F)
    missed: Complexes = total - (1 - y) / (1 + y)
    return missed


def _take_off_stray(sweep: Sweep) -> Complexes:
    """Return S (F, 2, 2) without the capacitance that fits best from each end to ground."""
    s, omega = sweep.s, 2 * np.pi * sweep.freq_hz
    common = (1 + s[:, 0, 0]) * (1 + s[:, 1, 1]) - s[:, 0, 1] * s[:, 1, 0]
    abcd = two_port.s_to_abcd(s, (NOMINAL_OHM, NOMINAL_OHM))
    for end in (0, 1):
        far = 1 - end
        # (Y11 + Y21) Z0 times `common`, which is no quotient and so has no amplified noise
        shunt = (1 - s[:, end, end]) * (1 + s[:, far, far]) + s[:, 0, 1] * s[:, 1, 0] - 2 * s[:, far, end]
        model = 1j * omega * NOMINAL_OHM * common
        size = float(np.sum(np.abs(model) ** 2))
        fitted = float(np.sum(np.conj(model) * shunt).real) / size if size > 0 else 0.0
        y = np.asarray(-1j * omega * min(max(fitted, 0.0), _FITTED_STRAY_F), np.complex128)
        one: Complexes = np.ones(len(s), np.complex128)
        off = two_port.stack_two_port(one, 0 * one, y, one)
        abcd = off @ abcd if end == 0 else abcd @ off
    return two_port.abcd_to_s(abcd, (NOMINAL_OHM, NOMINAL_OHM))


def flag_cable_left_in(test: Sweep, errors: AssumedErrors) -> tuple[Flag, ...]:
    """Return line length, loss or gain between the calibration and the clips, claimed from about 20 cm."""
    if not has_both_columns(test):
        return ()
    found = measure_series_misfit(test, errors)
    if not is_beyond(test.freq_hz, found.misfit, found.bound):
        return ()
    return (build_flag("cable_left_in", misfit=f"{np.nanmedian(found.misfit):.2f}"),)


def compute_series_impedance(test: Sweep) -> Complexes | None:
    """Return Zcm (F,) of the sweep as it is, by the best way its columns allow; None without phase."""
    if test.magnitude_only:
        return None
    return series_through.compute_series_impedance(test, series_through.choose_impedance_method(test))


def bound_impedance(test: Sweep, z_ohm: Complexes, errors: AssumedErrors) -> Floats:
    """Return (F,) ohm by which a part of an honest Zcm may be wrong: the share of |Z + 2 Z0| that S21 is
    off.
    """
    if test.ports < 2 or not test.measured[1, 0]:
        reflected = np.abs(test.s[:, 0, 0])
        slope_ohm: Floats = np.abs(z_ohm + NOMINAL_OHM) ** 2 / (2 * NOMINAL_OHM)
        return errors.bound_reflection(reflected) * slope_ohm
    through = np.abs(test.s[:, 1, 0])
    back = np.abs(1 - test.s[:, 1, 0])  # what a series impedance reflects
    share = errors.drift + errors.reflection * (1 + back) + errors.port2_match * back
    with np.errstate(divide="ignore", invalid="ignore"):
        share = share + errors.noise / through
    if not (test.ports == 2 and test.measured.all()):
        share = share + bound_stray(test.freq_hz, STRAY_F)  # turns the phase of a reading from S21 alone
    bound: Floats = share * np.abs(z_ohm + 2 * NOMINAL_OHM)
    return bound


def flag_reversed_phase(test: Sweep, errors: AssumedErrors) -> tuple[Flag, ...]:
    """Return a capacitive low end of an impedance that rises: a choke's is inductive, a capacitance falls."""
    z_ohm = compute_series_impedance(test)
    if z_ohm is None or test.ports < 2 or test.freq_hz[-1] < _LOW_END * test.freq_hz[0]:
        return ()
    low = _find_low_end(test.freq_hz, z_ohm)
    if low.sum() < 3:
        return ()
    capacitive = -z_ohm.imag[low] > bound_impedance(test, z_ohm, errors)[low]
    size, log_hz = np.abs(z_ohm[low]), np.log(np.maximum(test.freq_hz[low], 1.0))
    if capacitive.mean() < 0.5 or np.polyfit(log_hz, np.log(np.maximum(size, 1e-9)), 1)[0] <= 0.1:
        return ()
    return (build_flag("phase_reversed"),)


def _find_low_end(freq_hz: Floats, z_ohm: Complexes) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return the lowest octave, or the lowest ten points where it holds fewer, as far as Zcm exists."""
    low = freq_hz <= _LOW_END * max(float(freq_hz[0]), 1.0)
    low[:10] = True
    found: np.ndarray[tuple[int], np.dtype[np.bool_]] = low & np.isfinite(z_ohm)
    return found


def flag_looks_like_antenna(test: Sweep, errors: AssumedErrors) -> tuple[Flag, ...]:
    """Return S11 alone that dips, resonates in series, or is matched: an antenna or a loaded device."""
    if test.ports >= 2 and test.measured[1, 0]:
        return ()
    s11 = test.column(0, 0)
    size = np.abs(s11)
    at = int(np.argmin(size))
    dips = size[at] < _DIP and size[: at + 1].max() > _RISE and size[at:].max() > _RISE
    matched = float(np.median(size)) < _MATCHED
    if not (dips or matched or _resonates_in_series(test, errors)):
        return ()
    swr = (1 + size[at]) / max(1 - size[at], 1e-6)
    return (build_flag("looks_like_antenna", swr=f"{swr:.1f}", at=format_megahertz(test.freq_hz[at])),)


def _resonates_in_series(test: Sweep, errors: AssumedErrors) -> bool:
    """Say whether the lowest reactance that can be told is capacitive and then turns inductive at a small
    |Z|.
    """
    z_ohm = compute_series_impedance(test)
    if z_ohm is None:
        return False
    told = np.abs(z_ohm.imag) > bound_impedance(test, z_ohm, errors)  # False where NaN
    signs, sizes = np.sign(z_ohm.imag[told]), np.abs(z_ohm[told])
    if signs.size < 10 or np.median(signs[:5]) > 0:
        return False
    rises = np.flatnonzero((signs[:-1] < 0) & (signs[1:] > 0))
    return bool(rises.size) and bool(sizes[rises].min() < _SMALL_OHM)
