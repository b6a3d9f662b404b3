"""Z, Y, G and H matrices -> S, for real references.

Closed forms on normalised values, so that no matrix has to exist that need not: a series impedance
has no Z matrix, an ideal transformer neither Z nor Y, and scikit-rf goes through Z for G and H.
Where the detour exists the numbers are those of scikit-rf `z2s`, `y2s`, `g2s`, `h2s`.

With voltages divided by sqrt(z0) and currents multiplied by it (S = b/a, a = (v+i)/2, b = (v-i)/2):
S = (z-1)(z+1)^-1 = (1+y)^-1 (1-y); for h, with D = (h11+1)(h22+1) - h12 h21:
S11 = ((h11-1)(h22+1) - h12 h21)/D, S12 = 2 h12/D, S21 = -2 h21/D, S22 = ((1+h11)(1-h22) + h12 h21)/D.
G is the H of the device turned round. scikit-rf multiplies the normalised data of a version 1 file
by R for every parameter; by the document Y and the last entry of H (first of G) are divided by it.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.sweep import Complexes, Floats


def normalised(parameter: str, matrix: Complexes, z0_ohm: Floats) -> Complexes:
    """Divide the reference out of a Z, Y, G or H matrix.

    matrix: (F, P, P) in ohm, siemens or ratios as the parameter has it; z0_ohm: (P,) positive.
    """
    root = np.sqrt(z0_ohm)
    if parameter == "z":
        scale = 1.0 / np.outer(root, root)
    elif parameter == "y":
        scale = np.outer(root, root)
    elif parameter == "h":
        scale = np.array([[1 / z0_ohm[0], root[1] / root[0]], [root[1] / root[0], z0_ohm[1]]])
    else:
        scale = np.array([[z0_ohm[0], root[0] / root[1]], [root[0] / root[1], 1 / z0_ohm[1]]])
    scaled: Complexes = matrix * scale
    return scaled


def scattering(parameter: str, matrix: Complexes) -> Complexes:
    """S of a normalised Z, Y (F, P, P) or G, H (F, 2, 2) matrix.

    A singular case (an active device) gives infinite or NaN entries: the caller checks.
    """
    if parameter == "h":
        return _from_h(matrix)
    if parameter == "g":
        return _from_h(matrix[:, ::-1, ::-1])[:, ::-1, ::-1]
    one = np.eye(matrix.shape[-1])
    numerator = matrix - one if parameter == "z" else one - matrix
    try:
        # both factors are functions of one matrix and commute, so the order does not matter
        return np.asarray(np.linalg.solve(matrix + one, numerator), dtype=np.complex128)
    except np.linalg.LinAlgError:
        return np.full_like(matrix, np.nan)


def _from_h(h: Complexes) -> Complexes:
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
