"""One model of port 1 that explains a metered load and a line with an open or short end together.

A reading is Gm = d + (1+t) G/(1 - s G) of directivity d, tracking t and source match s (Rytting's error
terms, from memory). Each is a complex constant plus a slope over frequency. The load is (R-50)/(R+50) with
the meter's 1 % and a stray of up to 0.5 pF and 10 nH; the line has a delay, a loss that grows with the root
of frequency and with frequency, and an impedance that may be off by some 2 ohm, (r + G)/(1 + r G).

Everything unknown has a prior, and the posterior is that of linear least squares about the best fit (Gauss
and Newton; Bayesian linear model, closed form). A term that the sweeps do not show keeps its wide prior, and
its doubt says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.rf.instruments.resistors import METERED, STRAY_F, STRAY_H
from measurements.rf.sweeps.sweep import Complexes, Floats

LARGEST_MISFIT = 6.0  # rms misfit over rms noise: beyond it the model does not explain the sweep
_STEPS = 5
_ROUNDS = 1e-6  # step of the numeric derivative
_MODEL_ERROR = 0.0003  # what a straight slope leaves of real residuals, each component
# priors, standard deviations of each component: the calibration's residuals have a common, unknown size
_RESIDUALS = (0.002, 0.004, 0.008, 0.016, 0.05)
_SLOPE_SHARE, _LEAST_SLOPE = 0.3, 0.002  # of that size, over the sweep
_LINE_IMPEDANCE = 0.01  # reflection of a line that is off by 1 ohm, standard deviation: 48 to 52 ohm
_AGAIN = 0.003  # connection, and drift of some 0.03 dB since the calibration: the checks follow it at once

_COVERAGE = 2.0  # standard deviations of the less certain component

_TERMS = ("directivity", "reflection_tracking", "source_match")
_COMPLEX = tuple(f"{name}{part}" for name in _TERMS for part in ("", "_slope"))


@dataclass(frozen=True)
class LoadCheck:
    """freq_hz (F,), S11 (F,) as read of a load of `load_ohm` by a meter; noise of each component."""

    freq_hz: Floats
    s11: Complexes
    noise: float
    load_ohm: float


@dataclass(frozen=True)
class LineCheck:
    """The same of a line; sign +1: open at its end, -1: shorted."""

    freq_hz: Floats
    s11: Complexes
    noise: float
    sign: float


@dataclass(frozen=True)
class FittedTerm:
    """value: at zero frequency, and what is added up to the top. bound: largest size plus doubt.

    doubt: twice the standard deviation of the less certain component, the largest over the sweep. alone: the
    same where the sizes of the other terms say nothing about this one.
    """

    value: tuple[complex, complex]
    bound: float
    doubt: float
    alone: float


@dataclass(frozen=True)
class ResidualFit:
    """misfit: rms of what is left over rms noise. round_trip_rad: phase of the line at the top.

    end_sum: bound of |tracking + source match| at the low end.
    """

    terms: Mapping[str, FittedTerm]
    misfit: float
    round_trip_rad: float
    end_sum: float
    top_hz: float


@dataclass(frozen=True)
class _Unknown:
    """deviation: of the prior; of a residual as a share of the size that residuals may have."""

    name: str
    mean: float
    deviation: float
    is_residual: bool = False

    def get_deviation(self, residual: float) -> float:
        """Return the standard deviation of the prior where residuals have this size."""
        return max(self.deviation * residual, _LEAST_SLOPE) if self.is_residual else self.deviation


def _list_unknowns(load: LoadCheck | None, line: LineCheck | None) -> list[_Unknown]:
    found = [
        _Unknown(f"{name}.{part}", 0.0, _SLOPE_SHARE if name.endswith("_slope") else 1.0, is_residual=True)
        for name in _COMPLEX
        for part in ("re", "im")
    ]
    if load is not None:
        half = 0.5 / np.sqrt(3)
        found += [
            _Unknown("meter", 0.0, METERED / np.sqrt(3)),
            _Unknown("load_c", 0.5, half),
            _Unknown("load_l", 0.5, half),
        ]
    if line is not None:
        found += [
            _Unknown("delay", 0.0, 10.0),  # radians of round trip at the top
            _Unknown("root_loss", 0.0, 0.05),  # nepers at the top
            _Unknown("loss", 0.0, 0.02),
            _Unknown("impedance", 0.0, _LINE_IMPEDANCE),
            _Unknown("again.re", 0.0, _AGAIN),
            _Unknown("again.im", 0.0, _AGAIN),
        ]
    return found


class _Model:
    """Readings predicted from the unknowns."""

    def __init__(self, load: LoadCheck | None, line: LineCheck | None) -> None:
        self.load, self.line = load, line
        self.unknowns = _list_unknowns(load, line)
        self.place = {one.name: at for at, one in enumerate(self.unknowns)}
        checks = [one for one in (load, line) if one is not None]
        self.top_hz = max(float(one.freq_hz[-1]) for one in checks)
        self.deviation = np.concatenate(
            [np.full(2 * one.s11.size, np.hypot(one.noise, _MODEL_ERROR)) for one in checks]
        )
        self.read = np.concatenate([_stack(one.s11) for one in checks])

    def predict(self, values: Floats) -> Floats:
        """Return all readings, real parts and imaginary parts."""
        parts = []
        if self.load is not None:
            parts.append(_stack(self._box(self.load.freq_hz, self._get_load(values), values)))
        if self.line is not None:
            again = 1 + self._get(values, "again")
            parts.append(_stack(again * self._box(self.line.freq_hz, self._get_line(values), values)))
        return np.concatenate(parts)

    def _get(self, values: Floats, name: str) -> complex:
        return complex(values[self.place[f"{name}.re"]], values[self.place[f"{name}.im"]])

    def _box(self, freq_hz: Floats, gamma: Complexes, values: Floats) -> Complexes:
        share = freq_hz / self.top_hz
        d, t, s = (self._get(values, name) + self._get(values, f"{name}_slope") * share for name in _TERMS)
        return d + (1 + t) * gamma / (1 - s * gamma)

    def _get_load(self, values: Floats) -> Complexes:
        if self.load is None:
            raise ValueError("there is no load")
        omega = 2 * np.pi * self.load.freq_hz
        ohm = self.load.load_ohm * (1 + values[self.place["meter"]])
        across = ohm / (1 + 1j * omega * ohm * STRAY_F * values[self.place["load_c"]])
        z = across + 1j * omega * STRAY_H * values[self.place["load_l"]]
        return np.asarray((z - 50) / (z + 50), complex)

    def _get_line(self, values: Floats) -> Complexes:
        if self.line is None:
            raise ValueError("there is no line")
        share = self.line.freq_hz / self.top_hz
        root = values[self.place["root_loss"]] * np.sqrt(share)
        turn = values[self.place["delay"]] * share
        inside = self.line.sign * np.exp(-(1 + 1j) * root - values[self.place["loss"]] * share - 1j * turn)
        r = values[self.place["impedance"]]
        return np.asarray((r + inside) / (1 + r * inside), complex)

    def start(self) -> Floats:
        """Return the priors' means, with the delay that the phase shows."""
        values = np.array([one.mean for one in self.unknowns])
        if self.line is not None:
            phase = np.unwrap(np.angle(self.line.s11 * self.line.sign))
            share = self.line.freq_hz / self.top_hz
            values[self.place["delay"]] = -float(np.polyfit(share, phase, 1)[0])
        return values


def _stack(values: Complexes) -> Floats:
    return np.concatenate([values.real, values.imag])


def fit_residuals(load: LoadCheck | None, line: LineCheck | None) -> ResidualFit:
    """Fit the residuals of port 1 to a load, a line, or both (one at least)."""
    model = _Model(load, line)
    values = model.start()
    for _ in range(_STEPS):
        wide = _solve_linear(model, values, _differentiate(model, values), _RESIDUALS[-1])
        values = wide.mean
    mean, covariance = _average_over_scales(model, values)
    left = (model.read - model.predict(values)) / model.deviation
    terms = {name: _read_term(model, mean, covariance, wide.covariance, name) for name in _TERMS}
    trip = float(values[model.place["delay"]]) if line is not None else 0.0
    return ResidualFit(
        terms,
        float(np.sqrt(np.mean(left**2))),
        abs(trip),
        _bound_end_sum(model, mean, covariance),
        model.top_hz,
    )


@dataclass(frozen=True)
class _Posterior:
    """Of the linear model about one point: mean, covariance, and log evidence of its prior."""

    mean: Floats
    covariance: Floats
    log_evidence: float


def _solve_linear(model: _Model, at: Floats, slope: Floats, residual: float) -> _Posterior:
    """Return the posterior with residuals of prior standard deviation `residual`, linear about `at`."""
    deviations = np.array([one.get_deviation(residual) for one in model.unknowns])
    prior = np.array([one.mean for one in model.unknowns])
    scaled = slope / model.deviation[:, None]
    left = (model.read - model.predict(at)) / model.deviation + scaled @ (at - prior)
    precision = scaled.T @ scaled + np.diag(deviations**-2)
    covariance = np.linalg.inv(precision)
    pull = scaled.T @ left
    log_evidence = (
        pull @ covariance @ pull - np.linalg.slogdet(precision)[1] - 2 * np.log(deviations).sum()
    ) / 2
    return _Posterior(prior + covariance @ pull, covariance, float(log_evidence))


def _average_over_scales(model: _Model, at: Floats) -> tuple[Floats, Floats]:
    """Return mean and covariance (U,) and (U, U), averaged over the sizes that residuals may have."""
    slope = _differentiate(model, at)
    found = [_solve_linear(model, at, slope, residual) for residual in _RESIDUALS]
    weight = np.exp([one.log_evidence - max(each.log_evidence for each in found) for one in found])
    weight /= weight.sum()
    mean = np.sum([share * one.mean for share, one in zip(weight, found, strict=True)], axis=0)
    covariance = np.sum(
        [
            share * (one.covariance + np.outer(one.mean - mean, one.mean - mean))
            for share, one in zip(weight, found, strict=True)
        ],
        axis=0,
    )
    return mean, covariance


def _differentiate(model: _Model, values: Floats) -> NDArray[np.float64]:
    columns = []
    for at in range(values.size):
        step = np.zeros(values.size)
        step[at] = _ROUNDS
        columns.append((model.predict(values + step) - model.predict(values - step)) / (2 * _ROUNDS))
    return np.stack(columns, axis=1)


def _read_term(model: _Model, values: Floats, covariance: Floats, wide: Floats, name: str) -> FittedTerm:
    """Return size and doubt of one term, the largest over the sweep. wide: covariance with wide priors."""
    names = (f"{name}.re", f"{name}.im", f"{name}_slope.re", f"{name}_slope.im")
    at = [model.place[one] for one in names]
    block = np.ix_(at, at)
    base, slope = complex(*values[at[:2]]), complex(*values[at[2:]])
    bounds, doubts, alone = [], [], []
    for share in np.linspace(0.0, 1.0, 7):
        mix = np.array([[1, 0, share, 0], [0, 1, 0, share]])
        doubts.append(_bound_spread(mix @ covariance[block] @ mix.T))
        bounds.append(abs(base + slope * share) + doubts[-1])
        alone.append(_bound_spread(mix @ wide[block] @ mix.T))
    return FittedTerm((base, slope), max(bounds), max(doubts), max(alone))


def _bound_end_sum(model: _Model, values: Floats, covariance: Floats) -> float:
    """Return the bound of |tracking + sign x source match| where the line's end is at the port."""
    sign = 1.0 if model.line is None else model.line.sign
    at = [model.place[f"{name}.{part}"] for name in _TERMS[1:] for part in ("re", "im")]
    mix = np.array([[1, 0, sign, 0], [0, 1, 0, sign]])
    spread = _bound_spread(mix @ covariance[np.ix_(at, at)] @ mix.T)
    return float(np.hypot(*(mix @ values[at]))) + spread


def _bound_spread(covariance: Floats) -> float:
    """Return twice the standard deviation of the less certain direction of a (2, 2) covariance."""
    return _COVERAGE * float(np.sqrt(np.linalg.eigvalsh(covariance)[-1]))
