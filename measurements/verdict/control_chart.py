"""The control chart of a check standard: is a bench still the bench that it was?

A group sweeps one rugged device at every session of a bench (an analyser with a jig). Each session leaves one
figure per band. A new sweep is held against the earlier sessions: it is out of control where a band leaves

    mean +/- k s sqrt(1 + 1/n),     k = t(1 - a/2, dof),     1 - (1 - a)^bands = FALSE_ALARM,     k >= 3

which is the prediction interval for one further value (Hahn and Meeker, Statistical Intervals), so that the
limits know how few sessions they rest on, with the chance divided over the bands (Sidak), so that many bands
do not make many false alarms. Shewhart's three standard deviations (ISO 7870-2) are never undercut. Limits
from t with the degrees of freedom of the standard deviation: NIST/SEMATECH e-Handbook of Statistical Methods,
2.2.2, and Croarkin, NBS Special Publication 676-II (1985).

s joins what the sessions show with what is usual at a bench, as if `USUAL_DOF` more degrees of freedom had
shown the usual spread (a scaled inverse chi-square prior; Smyth 2004 for the same in another field). Without
it five sessions that agree by chance would call the sixth out, or five that scatter would see nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

FloatArray = npt.NDArray[np.float64]

FALSE_ALARM = 0.01  # house default, of a sweep over all its bands: to sweep again costs a minute
LEAST_FACTOR = 3.0  # ISO 7870-2
LEAST_SESSIONS = 5  # house default; before that a chart says "not enough sweeps yet"
MOST_SESSIONS = 20  # the limits rest on the first so many: later ones would follow a slow drift
USUAL_DOF = 4  # house default: the usual spread weighs as much as five sessions
CONFIDENCE = 0.95

# figure -> what it usually scatters by from session to session, in its unit; common practice, no source
USUAL_SPREADS = {"rejection_db": 0.3, "swr": 0.02, "loss_db": 0.05}


@dataclass(frozen=True)
class Limits:
    """What a sweep is held against. B bands; NaN where a band has too few sessions.

    sessions: how many the limits of a band rest on, B. sd: with the usual spread joined in.
    low, high: the limits for one further sweep.
    """

    mean: FloatArray
    sd: FloatArray
    low: FloatArray
    high: FloatArray
    sessions: npt.NDArray[np.int64]

    @property
    def established(self) -> bool:
        """Say whether any band has limits."""
        return bool(np.any(self.sessions >= LEAST_SESSIONS))


def compute_limit_factor(dof: FloatArray, bands: int, false_alarm: float = FALSE_ALARM) -> FloatArray:
    """Compute k of one band, so that all of them together call out an unchanged process that often.

    dof: degrees of freedom of the standard deviation. Source: Sidak; NIST tabulates three points as t*.
    """
    each = -np.expm1(np.log1p(-false_alarm) / bands)
    return np.asarray(special.stdtrit(dof, 1 - each / 2), dtype=np.float64)


def compute_limits(sessions: FloatArray, usual_spread: float) -> Limits:
    """Compute the limits for the next sweep from one row of figures per session.

    sessions: N rows, B bands, NaN where a band was not measured; the first `MOST_SESSIONS` rows count.
    usual_spread: standard deviation that is usual from session to session, in the figure's unit.
    Raises ValueError for a spread that is not above 0.
    """
    if not usual_spread > 0:
        raise ValueError("A usual spread is above 0.")
    used = sessions[:MOST_SESSIONS]
    count, mean, squares = _sum_up(used)
    dof = USUAL_DOF + count - 1
    sd = np.sqrt((USUAL_DOF * usual_spread**2 + squares) / np.maximum(dof, 1))
    judged = count >= LEAST_SESSIONS
    factor = np.maximum(LEAST_FACTOR, compute_limit_factor(dof, max(1, int(judged.sum()))))
    half = factor * sd * np.sqrt(1 + 1 / np.maximum(count, 1))
    half = np.where(judged, half, np.nan)
    return Limits(mean, sd, mean - half, mean + half, count.astype(np.int64))


def find_bands_outside(limits: Limits, sweep: FloatArray) -> npt.NDArray[np.bool_]:
    """Tell which bands of a sweep leave the limits, B; a band without limits or figure does not."""
    return (sweep < limits.low) | (sweep > limits.high)  # comparisons with NaN are False


@dataclass(frozen=True)
class Offset:
    """What one bench reads above another, per band. u: expanded uncertainty (95 %). B bands, NaN without."""

    difference: FloatArray
    u: FloatArray


def compute_offset(there: FloatArray, here: FloatArray, usual_spread: float) -> Offset:
    """Compute mean of `there` minus mean of `here`, of one device that was carried between two benches.

    there, here: a row of figures per session, B bands, NaN where a band was not measured. One of the benches
    needs `LEAST_SESSIONS`; a bench that was visited once then has an offset too. U is the larger of two: by
    the spread of these sessions alone, and by that with the usual one joined in (benches twice as unsteady as
    usual would else lie outside in one case of ten). It leaves out a change of the device on its way.
    """
    (n_there, mean_there, squares_there), (n_here, mean_here, squares_here) = _sum_up(there), _sum_up(here)
    enough = (np.minimum(n_there, n_here) > 0) & (np.maximum(n_there, n_here) >= LEAST_SESSIONS)
    own_dof = np.where(enough, n_there + n_here - 2, 1.0)
    squares = squares_there + squares_here
    share = np.sqrt(1 / np.maximum(n_there, 1) + 1 / np.maximum(n_here, 1))
    own = _compute_half_width(own_dof, squares) * share
    joined = _compute_half_width(own_dof + USUAL_DOF, squares + USUAL_DOF * usual_spread**2) * share
    u = np.where(enough, np.maximum(own, joined), np.nan)
    return Offset(np.where(enough, mean_there - mean_here, np.nan), u)


def _compute_half_width(dof: FloatArray, squares: FloatArray) -> FloatArray:
    """Compute t times the standard deviation (95 %)."""
    quantile = np.asarray(special.stdtrit(dof, (1 + CONFIDENCE) / 2), dtype=np.float64)
    return quantile * np.sqrt(squares / dof)


def _sum_up(rows: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return per band: how many values, their mean (NaN without any), the squares about it."""
    there = np.isfinite(rows)
    count = there.sum(axis=0).astype(np.float64)
    mean = np.where(there, rows, 0.0).sum(axis=0) / np.where(count > 0, count, np.nan)
    squares = np.where(there, (np.where(there, rows, 0.0) - mean) ** 2, 0.0).sum(axis=0)
    return count, mean, squares
