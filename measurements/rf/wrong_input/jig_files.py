"""Jig files that are not what they are filed as: a wrong, swapped or foreign open or short.

A through that loses too much is flagged where it is used (`jig.normalise_by_through`).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from measurements.rf.bands import resample_sweep
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments.assumed_errors import AssumedErrors, bound_stray, is_beyond
from measurements.rf.networks import series_through
from measurements.rf.networks.two_port import divide_or_nan
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep
from measurements.rf.wrong_input.choke_sweeps import bound_impedance, has_both_columns

_SHORT_LOSS_DB = 1.0  # median; a link of 300 nH loses 0.3 dB at 15 MHz
_SHORT_WORST_DB = 6.0
_OPEN_LOSS_DB = 12.0  # median; clips with 10 pF between them keep 20 dB back at 15 MHz
_OPEN_SEEN = 0.02  # |S21| from which the phase of an open jig can be told
_OTHER_STRAY_F = 3e-12  # two jigs' strays to ground differ by more; one jig's repeats within
_OTHER_CLIPS_F = 0.5e-12
_LOSSY_SHARE = 0.25  # of the admittance: a lossy winding's susceptance is no 1/(omega L)
_MOST = 0.5


def flag_wrong_jig_files(sweeps: Mapping[str, Sweep], errors: AssumedErrors) -> tuple[Flag, ...]:
    """Return flag each jig sweep that cannot be one of a jig closed, open or linked. sweeps: by role."""
    return (
        *_flag_open(sweeps.get("jig_open"), errors),
        *_flag_short(sweeps.get("jig_short")),
    )


def _read_db(sweep: Sweep, role: str) -> Floats:
    return series_through.rejection_db(sweep.column(1, 0, field=role))


def _flag_short(sweep: Sweep | None) -> tuple[Flag, ...]:
    if sweep is None or not _passes(sweep):
        return ()
    loss_db = _read_db(sweep, "jig_short")
    if np.median(loss_db) <= _SHORT_LOSS_DB and loss_db.max() <= _SHORT_WORST_DB:
        return ()
    return (build_flag("jig_short_rejects", loss_db=f"{min(float(np.median(loss_db)), 200.0):.1f}"),)


def _flag_open(sweep: Sweep | None, errors: AssumedErrors) -> tuple[Flag, ...]:
    if sweep is None or not _passes(sweep):
        return ()
    loss_db = _read_db(sweep, "jig_open")
    if np.median(loss_db) >= _OPEN_LOSS_DB and not _is_inductive(sweep, errors):
        return ()
    return (build_flag("jig_open_passes", loss_db=f"{min(float(np.median(loss_db)), 200.0):.1f}"),)


def _is_inductive(sweep: Sweep, errors: AssumedErrors) -> bool:
    """Say whether what can be told of the lowest octave is inductive: a device, not two clips."""
    if sweep.magnitude_only:
        return False
    s21 = sweep.s[:, 1, 0]
    low = (sweep.freq_hz <= 2 * max(float(sweep.freq_hz[0]), 1.0)) & (np.abs(s21) > _OPEN_SEEN)
    if low.sum() < 3:
        return False
    z_ohm = series_through.z_from_s21(s21, float(sweep.z0_ohm[0]), float(sweep.z0_ohm[1]))
    return bool((z_ohm.imag > bound_impedance(sweep, z_ohm, errors))[low].mean() > _MOST)


def _passes(sweep: Sweep) -> bool:
    return sweep.ports >= 2 and bool(sweep.measured[1, 0])


def flag_foreign_jig(
    test: Sweep, sweeps: Mapping[str, Sweep], errors: AssumedErrors, wrong: tuple[Flag, ...] = ()
) -> tuple[Flag, ...]:
    """Return an open or short of another jig: its stray does not explain the device's own sweep.

    wrong: flags of `flag_wrong_jig_files`, whose sweeps need no second one.
    """
    named = {flag.code for flag in wrong}
    found = []
    for role, code in (("jig_open", "jig_open_passes"), ("jig_short", "jig_short_rejects")):
        sweep = sweeps.get(role)
        if sweep is None or code in named or not _passes(sweep) or not _passes(test):
            continue
        pair = _share_frequencies(test, sweep)
        if pair is None or test.magnitude_only or sweep.magnitude_only:
            continue
        does_fit = _open_fits if role == "jig_open" else _short_fits
        if not (_ground_stray_fits(*pair, errors) and does_fit(*pair, errors)):
            found.append(build_flag("jig_foreign", role=role))
    return tuple(found)


def _share_frequencies(test: Sweep, other: Sweep) -> tuple[Sweep, Sweep] | None:
    """Return both on the test's points that lie within both; None under three of them."""
    low = max(float(test.freq_hz[0]), float(other.freq_hz[0]))
    high = min(float(test.freq_hz[-1]), float(other.freq_hz[-1]))
    inside = test.freq_hz[(test.freq_hz >= low) & (test.freq_hz <= high)]
    if inside.size < 3:
        return None
    return resample_sweep(test, inside), resample_sweep(other, inside)


def _ground_stray_fits(test: Sweep, jig: Sweep, errors: AssumedErrors) -> bool:
    """Say whether the device's sweep shows the jig's stray to ground, which S11 + S21 - 1 carries in both.

    A device adds to it and takes nothing away.
    """
    if not (has_both_columns(test) and has_both_columns(jig)):
        return True
    carried = [-(sweep.s[:, 0, 0] + sweep.s[:, 1, 0] - 1).imag for sweep in (jig, test)]
    near = np.abs(test.s[:, 0, 0])
    bound = 2 * errors.bound_reflection(np.maximum(near, np.abs(jig.s[:, 0, 0])))
    bound = bound + errors.port2_match * (np.abs(test.s[:, 1, 0]) + np.abs(jig.s[:, 1, 0]))
    lacks = carried[0] - carried[1]
    return not is_beyond(test.freq_hz, lacks, bound + bound_stray(test.freq_hz, _OTHER_STRAY_F))


def _series_admittance(sweep: Sweep) -> Complexes:
    return series_through.y_from_s21(sweep.s[:, 1, 0], float(sweep.z0_ohm[0]), float(sweep.z0_ohm[1]))


def _open_fits(test: Sweep, opened: Sweep, errors: AssumedErrors) -> bool:
    """Say whether the device's sweep holds at least the capacitance of the open clips.

    Over the top octave a line omega C - 1/(omega L) is fitted to both susceptances; a passive device beside
    the clips cannot make the capacitance smaller.
    """
    top = test.freq_hz >= test.freq_hz[-1] / 2
    if top.sum() < 5:
        return True
    omega = 2 * np.pi * test.freq_hz[top]
    rows = np.stack([omega, -1e15 / omega], axis=1)
    farads = []
    for sweep in (test, opened):
        b = _series_admittance(sweep).imag[top]
        if not np.isfinite(b).all():
            return True
        farads.append(float(np.linalg.lstsq(rows, b, rcond=None)[0][0]))
    share = _LOSSY_SHARE + errors.drift + 2 * errors.reflection + errors.port2_match
    slack_f = float(np.median(np.abs(_series_admittance(test)[top]) * share / omega))
    return farads[0] > 0.8 * farads[1] - _OTHER_CLIPS_F - slack_f


def _short_fits(test: Sweep, shorted: Sweep, errors: AssumedErrors) -> bool:
    """Say whether taking the link's impedance off leaves a device: its resistance does not become
    negative.
    """
    z_link = divide_or_nan(1.0, _series_admittance(shorted))
    z_read = divide_or_nan(1.0, _series_admittance(test))
    rest = z_read - z_link
    bound = bound_impedance(test, z_read, errors) + bound_impedance(shorted, z_link, errors)
    reversed_low = (-rest.imag > bound) & (z_read.imag > 0)
    beyond = (-rest.real > bound) | reversed_low  # False where NaN
    return bool(beyond.mean() < 0.1)
