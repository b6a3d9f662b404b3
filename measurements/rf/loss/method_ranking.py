"""Which method can be believed on an analyser: U of each on a sound nominal device, by its own budget.

A nominal device with 0.3 dB of loss is swept without error, each method computes its U from the analyser's
description, and the methods are ranked by it. So the advice changes with the description.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np

from measurements.rf.analyser import Analyser
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.loss import back_to_back, direct, one_port, renormalised, series_resistor
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

USEFUL_DB = 0.25  # house default: a loss that is known less well does not vote

FREQ_HZ: Floats = np.array([3.6e6, 7.1e6, 14.2e6, 21.2e6, 28.5e6])
# by judgement: 0.3 dB of loss and an SWR near 1.2 at either end of the sweep
MAGNETISING_H, LOSS_OHM, LEAKAGE_H, COPPER_OHM = 15e-6, 1200.0, 60e-9, 1.0

_METHODS: dict[str, Callable[[Request], LossCurve]] = {
    "direct": direct.compute_loss,
    "renormalised": renormalised.compute_loss,
    "series_resistor": series_resistor.compute_loss,
    "one_port": one_port.compute_loss,
    "back_to_back": back_to_back.compute_loss,
}


@dataclass(frozen=True)
class BelievableMethod:
    """A method with the sweep that it needs besides ('' for none), and U (95 %) that it reaches, in dB.

    uncertainty_db: the median over 3.6 to 28.5 MHz, of a sound device of 0.3 dB.
    """

    method: str
    also_sweep: str
    uncertainty_db: float

    @property
    def is_useful(self) -> bool:
        """Say whether a loss by this method is known well enough to vote."""
        return self.uncertainty_db <= USEFUL_DB

    def as_dict(self) -> dict[str, str | float]:
        """Return the row as a result carries it."""
        return {
            "method": self.method,
            "also_sweep": self.also_sweep,
            "uncertainty_db": round(self.uncertainty_db, 3),
        }

    def describe(self) -> str:
        """Name the method, the sweep that it needs besides, and its U."""
        also = f" with a {self.also_sweep} sweep" if self.also_sweep else ""
        return f"{self.method}{also} ({self.uncertainty_db:.2f} dB)"


def list_believable_methods(request: Request) -> tuple[BelievableMethod, ...]:
    """List the methods that can be believed on the analyser of a request, the least U first."""
    ranked = rank_methods(request.analyser, request.ratio, _get_paths(request))
    return tuple(each for each in ranked if each.is_useful)


def advise_on_method(request: Request, method: str) -> str:
    """Say what to do in place of `method`, or beside it, on the analyser of a request."""
    ranked = rank_methods(request.analyser, request.ratio, _get_paths(request))
    others = [each for each in ranked if (each.method, each.also_sweep) != (method, "")]
    useful = [each for each in others if each.is_useful]
    if not useful:
        least = min(others, key=lambda each: each.uncertainty_db)
        return (
            f"No method is known to {USEFUL_DB:g} dB on it, as it is described; the best is "
            f"{least.describe()}. Calibrate at the clips and describe the analyser by check sweeps, or use "
            "a better one"
        )
    # what is added to the sweeps at hand comes first: it is the least work
    useful.sort(key=lambda each: (each.method != method, each.uncertainty_db))
    named = ", or ".join(each.describe() for each in useful[:3])
    return f"On a sound device this analyser allows {named}"


def _get_paths(request: Request) -> int:
    return request.analyser.get_paths(next(iter(request.sweeps.values())))


@lru_cache(maxsize=256)
def rank_methods(analyser: Analyser, ratio: Fraction, paths: int) -> tuple[BelievableMethod, ...]:
    """Rank the methods that give one device's own loss, the least U first; paths: 1 or 2."""
    found = []
    for (method, also), sweeps in _sweep_nominal_device(ratio, paths).items():
        request = Request(
            "insertion_loss",
            method,
            ratio,
            sweeps,
            load_ohm=NOMINAL_OHM * float(ratio) * 1.001,  # as measured: exactly nominal counts as read off
            series_ohm=NOMINAL_OHM * (float(ratio) - 1) * 1.001 if ratio > 1 else None,
            analyser=analyser,
        )
        uncertainty = _METHODS[method](request).uncertainty_db
        if uncertainty is not None and np.isfinite(uncertainty).any():
            found.append(BelievableMethod(method, also, float(np.nanmedian(uncertainty))))
    return tuple(sorted(found, key=lambda each: each.uncertainty_db))


def _sweep_nominal_device(ratio: Fraction, paths: int) -> dict[tuple[str, str], dict[str, Sweep]]:
    """Return the sweeps (without error) of each way, by method and the sweep it needs besides."""
    abcd = _build_nominal_device(float(ratio))
    straight = _build_sweep(abcd, paths)
    ends = _end_nominal_device(abcd, float(ratio))
    pair = _build_sweep(abcd @ _turn(abcd), paths)
    through = {"jig_through": _build_sweep(two_port.build_series_abcd(0.0, FREQ_HZ.size), paths)}
    ways: dict[tuple[str, str], dict[str, Sweep]] = {
        ("one_port", ""): ends,
        ("back_to_back", "far_load"): {"sweep": pair, "far_load": ends["far_load"]},
    }
    by_port2 = {"direct": {"sweep": straight}} if ratio == 1 else {}
    if ratio > 1:
        resistor = two_port.build_series_abcd(NOMINAL_OHM * (float(ratio) - 1) * 1.001, FREQ_HZ.size)
        by_port2["series_resistor"] = {"sweep": _build_sweep(abcd @ resistor, paths)}
    for method, sweeps in by_port2.items():
        ways[method, ""] = sweeps
        if paths == 1:
            ways[method, "jig_through"] = sweeps | through
    if ratio != 1:
        # one path reads the other two columns with the device turned round
        both = {"sweep": _build_sweep(abcd, 2, "touchstone" if paths == 2 else "turned")}
        ways["renormalised", "" if paths == 2 else "sweep_reversed"] = both
    return ways


def _build_nominal_device(ratio: float) -> Complexes:
    """Return ABCD (F, 2, 2): leakage and copper, magnetising impedance with loss across, an ideal ratio."""
    omega = 2 * np.pi * FREQ_HZ
    along = np.asarray((COPPER_OHM + 1j * omega * LEAKAGE_H) / 2, np.complex128)
    across = np.asarray(1 / LOSS_OHM + 1 / (1j * omega * MAGNETISING_H), np.complex128)
    one, zero = np.ones(FREQ_HZ.size, complex), np.zeros(FREQ_HZ.size, complex)
    half = two_port.stack_two_port(one, along, zero, one)
    shunt = two_port.stack_two_port(one, zero, across, one)
    step = two_port.stack_two_port(one / np.sqrt(ratio), zero, zero, one * np.sqrt(ratio))
    abcd: Complexes = half @ shunt @ half @ step
    return abcd


def _turn(abcd: Complexes) -> Complexes:
    """Return a reciprocal two-port with its ends exchanged."""
    return two_port.stack_two_port(abcd[:, 1, 1], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 0, 0])


def _build_sweep(abcd: Complexes, paths: int, source: str = "touchstone") -> Sweep:
    s = two_port.abcd_to_s(abcd, (NOMINAL_OHM, NOMINAL_OHM))
    measured = np.ones((2, 2), bool)
    if paths == 1:
        s[:, :, 1], measured[:, 1] = 0, False
    return Sweep(FREQ_HZ, s, np.full(2, NOMINAL_OHM), measured, source=source)


def _end_nominal_device(abcd: Complexes, ratio: float) -> dict[str, Sweep]:
    """Return S11 with the far side open, shorted and in its nominal load."""
    a, b, c, d = abcd[:, 0, 0], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 1, 1]
    load = NOMINAL_OHM * ratio * 1.001
    inputs: Mapping[str, tuple[Complexes, Complexes]] = {
        "far_open": (a, c),
        "far_short": (b, d),
        "far_load": (a * load + b, c * load + d),
    }
    found = {}
    for role, (volts, amps) in inputs.items():
        gamma = (volts - NOMINAL_OHM * amps) / (volts + NOMINAL_OHM * amps)
        one = np.ones((1, 1), bool)
        found[role] = Sweep(FREQ_HZ, gamma[:, None, None], np.full(1, NOMINAL_OHM), one)
    return found
