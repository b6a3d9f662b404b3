"""A loss that cannot be right: the sweeps together describe a device which gives out more than it takes."""

from __future__ import annotations

import numpy as np

from measurements.rf.analyser import UNDESCRIBED, Analyser
from measurements.rf.flags import Flag, build_flag, format_megahertz
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments.assumed_errors import AssumedErrors, assume_errors
from measurements.rf.networks.series_through import rejection_db
from measurements.rf.networks.two_port import divide_or_nan
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

# Whether a sweep can be believed as a measurement of a passive, reciprocal device.
#
# Analyser noise makes single points of a nearly lossless device look active, so excess is averaged over a
# running tenth of the sweep (fifteen points at least) before it counts; a single point must be far out.

_ACTIVE_POINT = 0.03  # one point alone, on top: seven times what a noise of 0.002 per S-parameter makes

_NOT_RECIPROCAL = 0.01  # of full transmission, on top of

_RECIPROCAL_GAIN = 0.02  # 2 % of the reading (0.17 dB): two calibrations agree no better

_WINDOW = 15


def flag_sweep_faults(sweep: Sweep, role: str, analyser: Analyser = UNDESCRIBED) -> tuple[Flag, ...]:
    """Return every flag that one sweep earns by itself.

    Jig and far-side sweeps serve a narrow purpose: that they lack columns is nothing to report.
    """
    return (
        *flag_not_passive(sweep, role, analyser),
        *flag_not_reciprocal(sweep, role),
        *(flag_unmeasured(sweep, role) if role.startswith(("sweep", "pair_")) else ()),
        *((build_flag("magnitude_only", role=role),) if sweep.magnitude_only else ()),
    )


def flag_not_passive(sweep: Sweep, role: str, analyser: Analyser = UNDESCRIBED) -> tuple[Flag, ...]:
    """Return |S1j|^2 + |S2j|^2 + ... > 1 beyond the analyser's assumed errors, for any port j that was
    driven.

    With equal references this is the power that leaves over the power that enters; unmeasured
    columns count as nothing, so that what was measured decides alone.
    Source: microwaves101, loss factor: 1 - |S11|^2 - |S21|^2 >= 0 of a passive device.
    """
    power = np.where(sweep.measured, np.abs(sweep.s) ** 2, 0.0).sum(axis=1)
    allowed = _bound_power(sweep, assume_errors(sweep, analyser))
    for excess, beyond in zip((power - 1).T, (power - 1 - allowed).T, strict=True):
        at = _find_excess(beyond, 0.0, _ACTIVE_POINT)
        if at is not None:
            percent, where = f"{100 * excess[at]:.2g}", format_megahertz(sweep.freq_hz[at])
            return (build_flag("not_passive", role=role, excess_percent=percent, at=where),)
    return ()


def _bound_power(sweep: Sweep, errors: AssumedErrors) -> Floats:
    """Return (F, P) by which the power leaving an honest sweep may exceed 1, for each driven port.

    An error d of a size |S| changes its square by 2 |S| d + d^2. Port 2's match reflects power that left.
    """
    size = np.minimum(np.where(sweep.measured, np.abs(sweep.s), 0.0), 1.0)
    allowed = np.zeros(size.shape[:2])
    for driven in range(sweep.ports):
        near = size[:, driven, driven]
        for out in range(sweep.ports):
            through = size[:, out, driven]
            far = np.sqrt(np.maximum(1 - through**2, 0.0))  # as much as a passive device reflects there
            if out == driven:
                error = errors.bound_reflection(near)
            elif errors.port2_match > errors.reflection:
                # physical power into a mismatched port is conserved: all but |G2 S21|^2 is accounted for
                error = errors.bound_transmission(through, near, 0.0) + errors.port2_match**2 * through / 2
            else:
                error = errors.bound_transmission(through, near, far)
            allowed[:, driven] += 2 * through * error + error**2
    return allowed


def flag_not_reciprocal(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """Return S12 and S21 of a full two-port that differ by more than two calibrations would."""
    if sweep.ports != 2 or not sweep.measured.all() or sweep.magnitude_only:
        return ()
    forward, back = sweep.s[:, 1, 0], sweep.s[:, 0, 1]
    difference = np.abs(forward - back)
    excess = difference - _RECIPROCAL_GAIN * np.maximum(np.abs(forward), np.abs(back))
    at = _find_excess(excess, _NOT_RECIPROCAL, 5 * _NOT_RECIPROCAL)
    if at is None:
        return ()
    return (
        build_flag(
            "not_reciprocal",
            role=role,
            difference=f"{difference[at]:.2g}",
            at=format_megahertz(sweep.freq_hz[at]),
        ),
    )


def flag_unmeasured(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """Return the columns of a sweep that carry no measurement."""
    names = [f"S{i + 1}{j + 1}" for i, j in np.argwhere(~sweep.measured)]
    return (build_flag("unmeasured_columns", role=role, columns=" and ".join(names)),) if names else ()


def _find_excess(excess: Floats, mean_limit: float, point_limit: float) -> int | None:
    """Return index of the largest excess, if its running mean or a single point is beyond its limit."""
    width = min(max(_WINDOW, excess.size // 10), excess.size)
    total = np.concatenate([[0.0], np.cumsum(excess)])
    running = (total[width:] - total[:-width]) / width
    if running.max() > mean_limit or excess.max() > point_limit:
        return int(np.argmax(excess))
    return None


# What a sweep looks like: signs that it was wired, or filed, as something else.
#
# Every rule looks at most of the sweep, never at single points, so that noise cannot trip it. The
# limits are house defaults (common practice, no source) unless said otherwise.

_THROUGH_DB = 1.0  # "under 1 dB everywhere: wired wrong"

_OPEN_DB = 50.0  # nothing built of ferrite and wire blocks this much over a whole sweep

_OPEN_F = 3e-12  # what clips have between them; a choke above its resonance is lossy beside it

_LOSSLESS = 0.3

_AT_FLOOR_DB = 3.0

_MOST = 0.9

_FLAT_DB = 3.0

_TRANSFORMER_DB = 6.0  # a flat reading up to this can be a transformer without looking at S11

_TRANSFORMER_S11_DB = 12.0  # with S11 to tell the two apart, up to an ideal 49:1

_SERIES_MISFIT = 0.2

_SERIES_FIT = 0.1

_WIDE = 4.0  # two octaves: over less, any choke looks flat

_LOSSY_DB = 10.0

_REFLECTS_ALL = 0.95

_CHOKE_REFLECTS = 0.5  # a series impedance with 10 dB has |S11| = 0.68; half leaves room for leads


def flag_common_mode_wiring(
    freq_hz: Floats, through: Complexes, test: Sweep, floor_db: Floats | None
) -> tuple[Flag, ...]:
    """Return flags of a common-mode sweep: `through` (G,) relative to a direct connection.

    floor_db: (G,) of the open jig, where one was swept.
    """
    read_db = rejection_db(through)
    if (read_db < _THROUGH_DB).all():
        return (build_flag("looks_like_through"),)
    open_db = np.full(read_db.shape, _OPEN_DB) if floor_db is None else floor_db - _AT_FLOOR_DB
    if (read_db >= open_db).mean() >= _MOST or _looks_like_clips(freq_hz, through, test):
        return (build_flag("looks_open"),)
    if _looks_like_a_transformer(freq_hz, read_db, test):
        return (build_flag("looks_like_insertion_loss", loss_db=f"{np.median(read_db):.1f}"),)
    return ()


def _looks_like_clips(freq_hz: Floats, through: Complexes, test: Sweep) -> bool:
    """Return a lossless few picofarad over two octaves or more: two clips with nothing between them."""
    if test.magnitude_only or freq_hz[-1] < _WIDE * max(freq_hz[0], 1.0):
        return False
    admittance = divide_or_nan(through, 1 - through) / float(2 * test.z0_ohm[0])
    capacitive = (admittance.imag > 0) & (freq_hz > 0)  # False where NaN
    lossless = capacitive & (np.abs(admittance.real) < _LOSSLESS * admittance.imag)
    if lossless.mean() < _MOST:
        return False
    farad = admittance.imag[lossless] / (2 * np.pi * freq_hz[lossless])
    return bool(np.median(farad) < _OPEN_F)


def _looks_like_a_transformer(freq_hz: Floats, read_db: Floats, test: Sweep) -> bool:
    """Return a flat small loss over two octaves, with an S11 that a series impedance cannot have.

    A series impedance has S11 + S21 = 1; an ideal 4:1 transformer between equal ports has 0.2 or -1.4.
    """
    with np.errstate(invalid="ignore"):  # beside a complete block there is nothing between
        inner = np.percentile(read_db, [5.0, 50.0, 95.0])
    flat = bool(np.isfinite(inner).all()) and inner[2] - inner[0] < _FLAT_DB
    if not flat or freq_hz[-1] < _WIDE * max(freq_hz[0], 1.0):
        return False
    two = test.ports >= 2 and bool(test.measured[0, 0]) and bool(test.measured[1, 0])
    if test.magnitude_only or not two:
        return bool(inner[1] < _TRANSFORMER_DB)
    return bool(inner[1] < _TRANSFORMER_S11_DB) and compute_series_misfit(test) > _SERIES_MISFIT


def compute_series_misfit(test: Sweep) -> float:
    """Return median of |S11 + S21 - 1|: 0 for a pure series impedance between equal references."""
    return float(np.median(np.abs(test.s[:, 0, 0] + test.s[:, 1, 0] - 1)))


def flag_insertion_loss_wiring(loss_db: Floats, floor_db: float, test: Sweep | None) -> tuple[Flag, ...]:
    """Return flags of an insertion-loss curve: loss (F,) beyond what an ideal device reads by this method."""
    known = loss_db[~np.isnan(loss_db)]
    if known.size == 0:
        return ()
    excess_db = known - floor_db
    if (excess_db >= _OPEN_DB).mean() >= _MOST:
        return (build_flag("looks_open"),)
    median_db = float(np.median(excess_db))
    lossy = median_db >= _LOSSY_DB and not (test is not None and _reflects_otherwise(test))
    if lossy or (median_db >= _FLAT_DB and test is not None and _is_series_impedance(test)):
        return (build_flag("looks_like_common_mode", loss_db=f"{np.median(known):.1f}"),)
    return ()


def _is_series_impedance(test: Sweep) -> bool:
    """Say whether what is not transmitted is reflected in phase, S11 + S21 = 1, as at no transformer."""
    two = test.ports >= 2 and bool(test.measured[0, 0]) and bool(test.measured[1, 0])
    return two and not test.magnitude_only and compute_series_misfit(test) < _SERIES_FIT


def _reflects_otherwise(test: Sweep) -> bool:
    """Say whether S11 shows that this is no choke: one that blocks 10 dB reflects two thirds or more."""
    if not test.measured[0, 0]:
        return False
    return float(np.median(np.abs(test.s[:, 0, 0]))) < _CHOKE_REFLECTS


def flag_load_match_wiring(reflection: Floats) -> tuple[Flag, ...]:
    """Return flags of a load-match sweep: |S11| (F,)."""
    return (build_flag("looks_unterminated"),) if (reflection > _REFLECTS_ALL).mean() >= _MOST else ()


def flag_load_resistor(load_ohm: float, nominal_ohm: float) -> tuple[Flag, ...]:
    """Return flags of a load resistor as measured: 5 % off is a note, 20 % leaves the test out of
    evidence.
    """
    off = abs(load_ohm / nominal_ohm - 1)
    if off <= 0.05:
        return ()
    alone = max(load_ohm, nominal_ohm) / min(load_ohm, nominal_ohm)
    code = "load_far_from_nominal" if off > 0.20 else "load_off_nominal"
    sentence = {
        "load_ohm": f"{load_ohm:g}",
        "nominal_ohm": f"{nominal_ohm:g}",
        "load_alone_swr": f"{alone:.2f}",
    }
    return (build_flag(code, **sentence),)


def compute_nominal_load_ohm(ratio: float) -> float:
    """Return the load that belongs across the far side: ratio x 50 ohm (common practice)."""
    return ratio * NOMINAL_OHM
