"""Requests and sweeps for the tests of the methods."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from measurements.rf.analyser import Analyser
from measurements.rf.request import Request
from measurements.rf.sweeps.sweep import Sweep

# nearly nothing but what clipping on changes: for tests of a limit, not of an instrument
STEADY = Analyser(paths=2, reflection_residual=0.0001, drift_db=0.0, noise=0.0, resistor_percent=0.0)


def request(kind: str, method: str | None, ratio: int | Fraction, /, **given: Any) -> Request:
    """Keywords that are sweeps become roles; the rest are fields of the request."""
    sweeps = {role: value for role, value in given.items() if isinstance(value, Sweep)}
    rest = {name: value for name, value in given.items() if name not in sweeps}
    return Request(kind, method, Fraction(ratio), sweeps, **rest)


def loss_request(method: str, ratio: int | Fraction, /, **given: Any) -> Request:
    return request("insertion_loss", method, ratio, **given)


def flat(*rows: list[complex], freq_hz: tuple[float, ...] = (1e6, 30e6), **fields: Any) -> Sweep:
    """The same S-matrix at every frequency."""
    s = np.tile(np.array(rows, complex), (len(freq_hz), 1, 1))
    ports = s.shape[1]
    return Sweep(np.array(freq_hz), s, np.full(ports, 50.0), np.ones((ports, ports), bool), **fields)


def codes(flags: Any) -> set[str]:
    return {flag.code for flag in flags}
