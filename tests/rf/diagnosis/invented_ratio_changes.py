"""Ratio devices with something wrong, as a hobby analyser shows them; right, wrong and silent counted.

Devices go through the nodal analysis of `tests.rf.ferrites`; the analyser's errors are written here.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from measurements.rf.diagnosis import ratio_posterior
from measurements.rf.diagnosis.change_posterior import AS_BUILT, NONE_OF_THESE
from measurements.rf.diagnosis.ratio_model import RatioSweep
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.ratio_windings import RatioWinding
from tests.rf.ferrites import invented_ratio_devices as invented
from tests.rf.mix_tables import MIXES, columns

TABLES = {mix: Permeability(*columns(mix)) for mix in MIXES}
FREQ_HZ = np.geomspace(1.8e6, 30e6, 24)
BIG_MM = (61.0, 35.55, 12.7)
KINDS = (
    AS_BUILT,
    "turns_ratio",
    "turn_count",
    "core_count",
    "mix",
    "stray_capacitance",
    "leakage",
    "connection",
    "shunt_loss",
    "load_resistor",
    "two_changes",
)


@dataclass(frozen=True)
class Case:
    """A recipe, the sweep of a device that differs from it by `truth`, and which codes would be right."""

    wound: RatioWinding
    sweep: RatioSweep
    truth: str


def make_case(kind: str, rng: np.random.Generator, *, with_loss: bool = True) -> Case:
    step = int(rng.choice([7, 7, 3, 8]))
    near, stacked, mix = int(rng.integers(2, 4)) if step > 3 else 5, int(rng.integers(1, 3)), "43"
    capacitor_f = float(rng.choice([0.0, 100e-12]))
    wound = RatioWinding("voltage", Fraction(step**2), mix, BIG_MM, stacked, near, "single", 1.1, capacitor_f)
    made = {"mix": mix, "stacked": stacked, "near": near, "far": step * near}
    if kind in ("turns_ratio", "two_changes"):
        made["near"] = near - 1 if rng.uniform() < 0.5 else near + 1
    elif kind == "turn_count":
        made["near"] = near + (1 if near < 3 or rng.uniform() < 0.5 else -1)
        made["far"] = step * made["near"]
    elif kind == "core_count":
        made["stacked"] = 3 - stacked
    elif kind == "mix":
        made["mix"] = str(rng.choice(["61", "31", "77"]))
    device = invented.draw_separate_windings(
        rng, made["mix"], BIG_MM, made["stacked"], made["near"], made["far"], 1.1, capacitor_f
    )
    changes = {
        "stray_capacitance": {"far_f": device.far_f + rng.uniform(4, 15) * 1e-12},
        "leakage": {"leakage_h": device.leakage_h * rng.uniform(2.5, 5)},
        "connection": {"series_ohm": rng.uniform(3, 12)},
        "shunt_loss": {"shunt_s": 1 / rng.uniform(150, 500)},
        "two_changes": {"series_ohm": rng.uniform(3, 12), "shunt_s": 1 / rng.uniform(150, 500)},
    }
    device = device.changed(**changes.get(kind, {}))
    nominal_ohm = 50.0 * step**2
    load_ohm = nominal_ohm * (float(rng.choice([0.4, 0.6, 1.6, 2.2])) if kind == "load_resistor" else 1.0)
    return Case(wound, sweep_device(device, load_ohm, nominal_ohm, rng, with_loss=with_loss), kind)


def sweep_device(device, load_ohm: float, nominal_ohm: float, rng, *, with_loss: bool) -> RatioSweep:
    """As an analyser shows it: slow errors of 1 % and of 0.04 dB of loss, noise of 0.2 %."""
    true, _ = device.reflect(FREQ_HZ, load_ohm)
    _, loss_db = device.reflect(FREQ_HZ, nominal_ohm)
    octaves = np.log2(FREQ_HZ)

    def slow(size: float) -> np.ndarray:
        at = np.linspace(octaves[0], octaves[-1], 5)
        return np.interp(octaves, at, rng.normal(0, size, 5))

    directivity, tracking = slow(0.007) + 1j * slow(0.007), slow(0.007) + 1j * slow(0.007)
    noise = rng.normal(0, 0.002, (2, FREQ_HZ.size))
    s11 = directivity + true * (1 + tracking) + noise[0] + 1j * noise[1]
    seen_db = loss_db + slow(0.04) + rng.normal(0, 0.01, FREQ_HZ.size)
    return RatioSweep(FREQ_HZ, s11, nominal_ohm, seen_db if with_loss else None)


# where several things are wrong, a cause that is there is not wrongly named, though it is not all
THERE = {"two_changes": ("turns_ratio", "connection", "shunt_loss")}


def judge(case: Case) -> tuple[str, str]:
    """Right, part, wrong or silent, and the code that was named ('' for none)."""
    found = ratio_posterior.weigh_ratio_hypotheses(case.wound, case.sweep, TABLES)
    assert found is not None
    named = found.named
    if named is None:
        return "silent", ""
    code = named.given.code
    if code == case.truth:
        return "right", code
    return ("part" if code in THERE.get(case.truth, ()) else "wrong"), code


def count(devices: int, seed: int, *, kinds=KINDS, with_loss: bool = True) -> tuple[Counter, Counter]:
    """How often right, wrong and silent over all, and (truth, named) pairs."""
    total, pairs = Counter(), Counter()
    for index in range(devices):
        rng = np.random.default_rng((seed, index))
        kind = kinds[index % len(kinds)]
        outcome, named = judge(make_case(kind, rng, with_loss=with_loss))
        total[outcome] += 1
        pairs[kind, named or "-"] += 1
    return total, pairs


__all__ = ["NONE_OF_THESE", "Case", "count", "judge", "make_case"]
