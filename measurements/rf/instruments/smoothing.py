"""Less noise before a steep step: a local quadratic over nine neighbouring points of a complex trace.

The worst point of a band is the largest of several noisy ones, so it reads too bad by a multiple of the
noise. Averaging decibels would hide real dips; a quadratic fitted in frequency to nine neighbours of the
*complex* reflection (Savitzky and Golay, Anal. Chem. 36 (1964) 1627, from memory) leaves alone whatever is a
quadratic over nine points, and halves the noise. It is used only where it can do no harm:

- where the trace carries noise at all: what a quadratic and a quartic leave over must be of one size (it is
  for white noise; on a clean or coarse curve the quartic leaves far less, and the trace stays as it is);
- at a point whose neighbourhood the quadratic fits within that noise; a narrow resonance keeps its points.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.sweeps.sweep import Complexes, Floats

SPAN_POINTS = 9
LEAST_POINTS = 25  # fewer points say too little about their own noise
WHITE = 0.7  # least residue of the quartic over that of the quadratic; white noise gives 1 within 10 %
MISFIT = 2.5  # mean square misfit over noise variance; noise alone exceeds it at about 3 points in 1,000
SMOOTHING_SENTENCE = (
    "Noise was reduced by a local quadratic over nine neighbouring points of each complex trace, except "
    "where the curve is sharper than that."
)


class Smoother:
    """Smooths traces that stand on one frequency list, which need not be even."""

    def __init__(self, freq_hz: Floats) -> None:
        """freq_hz: (F,) rising."""
        self.usable = len(freq_hz) >= LEAST_POINTS
        if self.usable:
            first = np.clip(np.arange(len(freq_hz)) - SPAN_POINTS // 2, 0, len(freq_hz) - SPAN_POINTS)
            self._neighbours = first[:, None] + np.arange(SPAN_POINTS)
            self._quadratic = _weights(freq_hz, self._neighbours, 2)
            self._quartic = _weights(freq_hz, self._neighbours, 4)

    def __call__(self, trace: Complexes) -> Complexes:
        """Return (F,) complex with its noise reduced where that is safe; the same values elsewhere."""
        if not self.usable or not np.isfinite(trace).all():
            return trace
        fit, noise = self._fit(trace, self._quadratic)
        _, finer = self._fit(trace, self._quartic)
        if finer < WHITE * noise:
            return trace
        misfit = np.mean(np.abs(trace - fit)[self._neighbours] ** 2, axis=1) * SPAN_POINTS / (SPAN_POINTS - 3)
        kept: Complexes = np.where(misfit > MISFIT * finer**2, trace, fit)
        return kept

    def _fit(self, trace: Complexes, weights: Floats) -> tuple[Complexes, float]:
        """Return the fitted trace and the standard deviation of the white noise that explains what is left
        over.

        A fit leaves (1 - its own weight) of a point's variance; the median magnitude of a complex Gaussian
        of unit variance is sqrt(ln 2). The median ignores a few sharp features.
        """
        own = weights[np.arange(len(trace)), np.arange(len(trace)) - self._neighbours[:, 0]]
        fit: Complexes = np.sum(weights * trace[self._neighbours], axis=1)
        left_over = np.abs(trace - fit) / np.sqrt(1.0 - own)
        return fit, float(np.median(left_over) / np.sqrt(np.log(2.0)))


def _weights(
    freq_hz: Floats, neighbours: np.ndarray[tuple[int, ...], np.dtype[np.intp]], degree: int
) -> Floats:
    """Return (F, 9): the weights with which the neighbours make the fitted value of each point."""
    near_hz = freq_hz[neighbours]
    width_hz = near_hz[:, -1:] - near_hz[:, :1]
    x = (2 * near_hz - near_hz[:, :1] - near_hz[:, -1:]) / width_hz
    q, _ = np.linalg.qr(x[:, :, None] ** np.arange(degree + 1))
    own_row = q[np.arange(len(freq_hz)), np.arange(len(freq_hz)) - neighbours[:, 0]]
    weights: Floats = np.einsum("fd,fpd->fp", own_row, q)
    return weights
