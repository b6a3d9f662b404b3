"""Algebra of two-ports on scikit-rf: S and ABCD with real, unequal references.

scikit-rf computes every conversion. Its own answer to a singular case is an invented number: an ideal open
becomes 7e12 ohm, and renormalisation by way of a Z matrix is off by 2e-8 for a through, which has none.
So each function here looks for the singular points first and answers NaN there, passes `z0` and `s_def`
always, and takes a way that needs no Z or Y matrix. NaN leaves as `null` with a flag; numpy stays silent.

F points; a two-port is (F, 2, 2) complex; references are real and positive, one per port.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import skrf

from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

Operand = Complexes | Floats | complex
WAVES = "power"  # scikit-rf's `s_def`; with real references its three definitions agree
UNDEFINED = complex(np.nan, np.nan)
SINGULAR = 1e-7  # of full transmission: below 1e-8 `connect_s` answers with a least-squares guess


def divide_or_nan(numerator: Operand, denominator: Operand) -> Complexes:
    """Return numerator / denominator, complex; NaN where the denominator is 0 or the quotient is not
    finite.
    """
    top, bottom = np.asarray(numerator, complex), np.asarray(denominator, complex)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        out: Complexes = np.asarray(top / bottom)
    # a zero below, and whatever is no number above, shows in the quotient; an endless denominator does not
    usable = np.isfinite(out) & np.isfinite(bottom)
    if not usable.all():
        out[~usable] = UNDEFINED
    return out


def loss_db(ratio: Complexes | Floats) -> Floats:
    """Return -20 log10 |ratio|, positive for a loss; NaN where the ratio is 0 (an endless loss is no
    number).
    """
    magnitude = np.abs(np.asarray(ratio))
    out = np.full(magnitude.shape, np.nan)
    usable = np.isfinite(magnitude) & (magnitude > 0)
    np.log10(magnitude, out=out, where=usable)
    return -20.0 * out


def power_loss_db(power: Floats) -> Floats:
    """Return -10 log10 of a share of power, NaN where it is not above 0."""
    share = np.asarray(power, dtype=np.float64)
    out = np.full(share.shape, np.nan)
    usable = np.isfinite(share) & (share > 0)
    np.log10(share, out=out, where=usable)
    return -10.0 * out


def mismatch_db(s11: Complexes) -> Floats:
    """Return -10 log10(1 - |S11|^2), NaN where nothing enters. Source: microwaves101, mismatch loss."""
    return power_loss_db(1.0 - np.abs(s11) ** 2)


def reflection_coefficient(z_ohm: Complexes | complex, z0_ohm: float) -> Complexes:
    """Compute (Z - Z0)/(Z + Z0); NaN at Z = -Z0 and where Z is not finite.

    An open has no impedance: give its reflection, 1, directly.
    """
    z = np.asarray(z_ohm, complex)
    return _convert_where(np.isfinite(z) & (z != -z0_ohm), z, skrf.tlineFunctions.zl_2_Gamma0, z0_ohm)


def impedance_ohm(gamma: Complexes | complex, z0_ohm: float) -> Complexes:
    """Compute Z0 (1+G)/(1-G); NaN at G = 1, the ideal open, for which scikit-rf invents 1e17 ohm.

    Source: Advantest R3765/67G manual p. 7-13 (its reflection conversion).
    """
    g = np.asarray(gamma, complex)
    return _convert_where(np.isfinite(g) & (g != 1), g, skrf.tlineFunctions.Gamma0_2_zl, z0_ohm)


def _convert_where(
    usable: Bools, values: Complexes, convert: Callable[[float, Complexes], Complexes], z0_ohm: float
) -> Complexes:
    """Convert usable values of any shape; NaN for the others, which scikit-rf sees as 0."""
    converted = np.asarray(convert(z0_ohm, np.where(usable, values, 0))).reshape(values.shape)
    return np.where(usable & np.isfinite(converted), converted, UNDEFINED)


def s_to_abcd(s: Complexes, z0_ohm: Sequence[float]) -> Complexes:
    """Convert (F, 2, 2) S with references (z1, z2) to ABCD by `skrf.network.s2a`; NaN where S21 = 0."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return _without_infinite(skrf.network.s2a(s, _repeat_references(z0_ohm, len(s))))


def abcd_to_s(abcd: Complexes, z0_ohm: Sequence[float]) -> Complexes:
    """Convert (F, 2, 2) ABCD to S with references (z1, z2) by `skrf.network.a2s`.

    NaN where A z2 + B + C z1 z2 + D z1 = 0, which no passive device has.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return _without_infinite(skrf.network.a2s(abcd, _repeat_references(z0_ohm, len(abcd))))


def _repeat_references(z0_ohm: Sequence[float], points: int) -> Complexes:
    return np.tile(np.asarray(z0_ohm, complex), (points, 1))


def _without_infinite(matrices: Complexes) -> Complexes:
    """Replace matrices (F, P, P) that hold anything but finite numbers by NaN."""
    usable: Bools = np.asarray(np.isfinite(matrices).all(axis=(1, 2)))
    return np.where(usable[:, None, None], matrices, UNDEFINED)


def renormalise_s(s: Complexes, from_ohm: Sequence[float], to_ohm: Sequence[float]) -> Complexes:
    """Change the real references of a P-port, (F, P, P).

    An ideal step of impedance (`skrf.network.impedance_mismatch`) is joined to each port
    (`skrf.network.connect_s`). `skrf.network.renormalize_s` goes through Z instead, and a through, a series
    impedance or an ideal transformer has no Z matrix. NaN at a point where a step and the port it meets
    reflect each other without end; no passive device has such a point.
    Source: Kurokawa 1965; Marks and Williams, J. Res. NIST 97(5), 1992 (from memory).
    """
    old, new = np.asarray(from_ohm, complex), np.asarray(to_ohm, complex)
    usable: Bools = np.asarray(np.isfinite(s).all(axis=(1, 2)))
    changed: Complexes = np.where(usable[:, None, None], s, 0)
    for port in np.flatnonzero(new != old).tolist():
        points = np.ones(len(s))
        step = skrf.network.impedance_mismatch(points * new[port], points * old[port], WAVES)
        sound = np.abs(1 - changed[:, port, port] * step[:, 1, 1]) > SINGULAR
        usable &= sound
        changed = _put_in_front(np.where(sound[:, None, None], changed, 0), port, step)
    return np.where(usable[:, None, None], changed, UNDEFINED)


def _put_in_front(s: Complexes, port: int, step: Complexes) -> Complexes:
    """Join port 2 of `step` (F, 2, 2) to a port; the order of the ports stays.

    Up to two ports, `connect_s` puts the new port last; beyond two it keeps the place.
    """
    joined: Complexes = skrf.network.connect_s(s, port, step, 1)
    return turn_two_port(joined) if s.shape[-1] == 2 and port == 0 else joined


def turn_two_port(s: Complexes) -> Complexes:
    """Look at the same two-port (F, 2, 2) from its other end."""
    turned: Complexes = skrf.network.flip(s)
    return turned


def stack_two_port(a: Complexes, b: Complexes, c: Complexes, d: Complexes) -> Complexes:
    """Return four (F,) columns as (F, 2, 2): [[a, b], [c, d]]."""
    return np.stack([np.stack([a, b], axis=-1), np.stack([c, d], axis=-1)], axis=-2)


def build_series_abcd(z_ohm: Complexes | complex, points: int) -> Complexes:
    """Return ABCD, (F, 2, 2), of an impedance in series between the two ports."""
    one = np.ones(points, complex)
    return stack_two_port(one, z_ohm * one, 0 * one, one)


def continuous_sqrt(values: Complexes) -> Complexes:
    """Return square root of (F,) complex whose branch follows its neighbours, starting with Re >= 0.

    The principal branch jumps where the value crosses the negative real axis; a device's S21 does not.
    NaN stays NaN and the branch is carried across the gap. The sign as a whole stays open, as it must:
    no reflection measurement tells S21 from -S21.
    """
    root: Complexes = np.sqrt(values)
    usable = np.flatnonzero(np.isfinite(root))
    kept = root[usable]
    turns_away = np.real(kept[1:] * np.conj(kept[:-1])) < 0
    flips = np.cumsum(turns_away) % 2 == 1
    root[usable[1:][flips]] *= -1
    return root
