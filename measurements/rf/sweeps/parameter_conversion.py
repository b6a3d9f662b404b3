"""Z, Y, G and H matrices -> S by scikit-rf, for real references.

scikit-rf 2.2 multiplies the normalised data of a version 1 file by R for every parameter; by the document
Y and the last entry of H (first of G) are divided by it, and the two ratios stay. It turns G into H and H
into Z by plain division: an ideal transformer has no Z matrix, and one without stray has neither. There the
closed form takes over, with voltages divided by sqrt(z0) and currents multiplied by it. With
D = (h11+1)(h22+1) - h12 h21:
S11 = ((h11-1)(h22+1) - h12 h21)/D, S12 = 2 h12/D, S21 = -2 h21/D, S22 = ((1+h11)(1-h22) + h12 h21)/D.
G is the H of the device turned round.
"""

from __future__ import annotations

import numpy as np
import skrf

from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

_WAVES = "power"  # scikit-rf's `s_def`; with real references its three definitions agree
_SINGULAR = (
    1e-12  # share of a determinant's largest possible size below which an inverse has no digit to show
)
_NO_DETOUR = 1e-3  # of a normalised entry or determinant: below it the way through Z loses digits
_UNDEFINED = complex(np.nan, np.nan)


def scale_to_units(parameter: str, matrix: Complexes, z0_ohm: Floats) -> Complexes:
    """Give a normalised Z, Y, G or H matrix (F, P, P) its ohm and siemens. z0_ohm: (P,), all alike."""
    r = float(z0_ohm[0])
    units = {
        "z": np.full(matrix.shape[1:], r),
        "y": np.full(matrix.shape[1:], 1 / r),
        "h": np.array([[r, 1], [1, 1 / r]]),
        "g": np.array([[1 / r, 1], [1, r]]),
    }
    scaled: Complexes = matrix * units[parameter]
    return scaled


def convert_to_scattering(parameter: str, matrix: Complexes, z0_ohm: Floats) -> Complexes:
    """Convert Z, Y (F, P, P) or G, H (F, 2, 2), in ohm and siemens, to S with references z0_ohm (P,).

    A singular case (an active device) gives NaN: the caller checks.
    """
    if parameter == "g":
        # the H of the same device, turned round
        turned = convert_to_scattering("h", skrf.network.flip(matrix), z0_ohm[::-1])
        return np.asarray(skrf.network.flip(turned))
    if parameter == "h":
        return _convert_hybrid(matrix, z0_ohm)
    ohm = np.diag(z0_ohm)
    sound = _can_be_solved(matrix + ohm if parameter == "z" else np.eye(len(z0_ohm)) + ohm @ matrix)
    s = np.full(matrix.shape, _UNDEFINED)
    convert = skrf.network.z2s if parameter == "z" else skrf.network.y2s
    if sound.any():
        s[sound] = convert(matrix[sound], _repeat(z0_ohm, int(sound.sum())), s_def=_WAVES)
    return s


def _convert_hybrid(h: Complexes, z0_ohm: Floats) -> Complexes:
    """Convert H by way of Z where h22 is large enough for it, else by the closed form."""
    s = _convert_hybrid_directly(h, z0_ohm)
    has_z = np.abs(h[:, 1, 1] * z0_ohm[1]) > _NO_DETOUR
    if has_z.any():
        s[has_z] = convert_to_scattering("z", np.asarray(skrf.network.h2z(h[has_z])), z0_ohm)
    return s


def _convert_hybrid_directly(h: Complexes, z0_ohm: Floats) -> Complexes:
    root = np.sqrt(z0_ohm)
    h = h * np.array([[1 / z0_ohm[0], root[1] / root[0]], [root[1] / root[0], z0_ohm[1]]])
    h11, h12, h21, h22 = h[:, 0, 0], h[:, 0, 1], h[:, 1, 0], h[:, 1, 1]
    product = h12 * h21
    divisor = (h11 + 1) * (h22 + 1) - product
    s = np.empty_like(h)
    s[:, 0, 0] = (h11 - 1) * (h22 + 1) - product
    s[:, 0, 1] = 2 * h12
    s[:, 1, 0] = -2 * h21
    s[:, 1, 1] = (1 + h11) * (1 - h22) + product
    with np.errstate(divide="ignore", invalid="ignore"):
        return s / divisor[:, None, None]


def _can_be_solved(matrix: Complexes) -> Bools:
    """Tell which of (F, P, P) have an inverse with a digit to show (Hadamard's bound of the determinant)."""
    largest = np.prod(np.linalg.norm(matrix, axis=2), axis=1)
    solvable: Bools = np.abs(np.linalg.det(matrix)) > _SINGULAR * largest
    return solvable


def _repeat(z0_ohm: Floats, points: int) -> Complexes:
    return np.tile(z0_ohm.astype(np.complex128), (points, 1))
