"""What a demo test is sent with: its settings and its files, computed from the device and the bench.

A kind or a method is one row of `_MADE`: which sweeps it takes, by role.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from measurements.ingest import demo_bench, demo_files
from measurements.ingest.demo_bench import Bench
from measurements.ingest.demo_scenario import PlannedDevice, PlannedTest
from measurements.ingest.demo_transformers import balanced_ports, shunt_admittance, two_port
from measurements.ingest.demo_windings import Build, build, choke_z_ohm, stream
from measurements.ingest.uploads import TestSettings, Upload
from measurements.rf.settings import NOMINAL_OHM, parse_ratio
from measurements.rf.sweep import Complexes
from measurements.rf.two_port import loss_db, series_impedance, stacked, turned

LOAD_SPREAD = 0.01  # a 1 % resistor, measured before it is used
MEGAHERTZ = 1e6
ANTENNA_HZ, ANTENNA_OHM, ANTENNA_Q = 7.12e6, 55.0, 5.0


@dataclass(frozen=True)
class Made:
    """A device on a bench: everything its sweeps follow from. recipe: in normal form."""

    device: PlannedDevice
    test: PlannedTest
    bench: Bench
    recipe: Mapping[str, Any]
    partner: PlannedDevice | None = None

    @property
    def build(self) -> Build:
        return build(self.device.owner, self.device.tag)

    @property
    def abcd(self) -> Complexes:
        return two_port(self.recipe, self.build, self.bench.freq_hz)

    @property
    def load_ohm(self) -> float:
        """The resistor across the far side, as its owner measured it: four digits."""
        nominal = float(parse_ratio(self.recipe["ratio"])) * NOMINAL_OHM
        off = stream("load", *self.words).standard_normal()
        return float(f"{nominal * (1 + LOAD_SPREAD * float(np.clip(off, -2, 2))):.4g}")

    @property
    def words(self) -> tuple[str, ...]:
        """What names this test among all others."""
        test = self.test
        return self.device.owner, self.device.tag, test.kind, test.method or "", test.measured_on.isoformat()


def settings(made: Made) -> TestSettings:
    """The settings its owner gives with the test."""
    loaded = made.test.kind == "load_match" or made.test.method == "one_port"
    return TestSettings(
        kind=made.test.kind,
        method=made.test.method,
        ratio=str(made.recipe["ratio"]),
        load_ohm=made.load_ohm if loaded else None,
        calibrated=made.test.calibrated,
        readings=_readings(made),
    )


def uploads(made: Made) -> dict[str, Upload]:
    """The files by role; none for a test whose values were read off a screen."""
    if made.test.readings_mhz:
        return {}
    sweeps = _MADE[made.test.kind, made.test.method](made)
    return {role: _upload(made, role, s) for role, s in sweeps.items()}


def _common_mode(made: Made) -> dict[str, Complexes]:
    s = demo_bench.common_mode(made.bench, choke_z_ohm(made.recipe, made.build, made.bench.freq_hz))
    jig = {role: demo_bench.jig(made.bench, role) for role in made.bench.sends_jig}
    return {**_with_turned(made, s), **jig}


def _through(made: Made) -> dict[str, Complexes]:
    return _with_turned(made, demo_bench.through(made.bench, made.abcd))


def _load_match(made: Made) -> dict[str, Complexes]:
    return {"sweep": demo_bench.ended(made.bench, made.abcd, 1 / made.load_ohm)}


def _one_port(made: Made) -> dict[str, Complexes]:
    ends = {"far_open": 0.0, "far_short": 1 / demo_bench.CLIP_OHM, "far_load": 1 / made.load_ohm}
    return {role: demo_bench.ended(made.bench, made.abcd, siemens) for role, siemens in ends.items()}


def _back_to_back(made: Made) -> dict[str, Complexes]:
    if made.partner is None:
        raise ValueError("a back_to_back test of the scenario names its partner")
    other = two_port(made.recipe, build(made.partner.owner, made.partner.tag), made.bench.freq_hz)
    swapped = stacked(other[:, 1, 1], other[:, 0, 1], other[:, 1, 0], other[:, 0, 0])
    return {"sweep": demo_bench.through(made.bench, made.abcd @ swapped)}


def _balance(made: Made) -> dict[str, Complexes]:
    """Two sweeps, each with the third terminal ended; columns that were not driven stay zero."""
    if made.bench.both_ways:
        raise ValueError("the balance test of the scenario is written for an analyser that drives one port")
    s11, s21, s31 = balanced_ports(made.recipe, made.build, made.bench.freq_hz)
    zero = np.zeros_like(s11)
    return {"sweep_12": stacked(s11, zero, s21, zero), "sweep_13": stacked(s11, zero, s31, zero)}


def _in_situ(made: Made) -> dict[str, Complexes]:
    """At the feed point: through the device, and with a plain jumper in its place."""
    antenna = 1 / _antenna_ohm(made)
    fault = 0.0 if made.test.fault_ohm is None else 1 / made.test.fault_ohm
    bad = shunt_admittance(np.full(antenna.shape, fault + 0j)) @ made.abcd
    jumper = series_impedance(demo_bench.CLIP_OHM, antenna.size)
    ways = {"sweep": bad, "sweep_bypassed": jumper}
    return {role: demo_bench.ended(made.bench, abcd, antenna) for role, abcd in ways.items()}


def _antenna_ohm(made: Made) -> Complexes:
    """A dipole for 40 m near its resonance: a series circuit of our own choosing."""
    detuning = made.bench.freq_hz / ANTENNA_HZ - ANTENNA_HZ / made.bench.freq_hz
    return ANTENNA_OHM * (1 + 1j * ANTENNA_Q * detuning)


_MADE: dict[tuple[str, str | None], Callable[[Made], dict[str, Complexes]]] = {
    ("common_mode", None): _common_mode,
    ("load_match", None): _load_match,
    ("insertion_loss", "direct"): _through,
    ("insertion_loss", "renormalised"): _through,
    ("insertion_loss", "one_port"): _one_port,
    ("insertion_loss", "back_to_back"): _back_to_back,
    ("balance", None): _balance,
    ("in_situ", None): _in_situ,
}


def _with_turned(made: Made, s: Complexes) -> dict[str, Complexes]:
    return {"sweep": s, "sweep_reversed": turned(s)} if made.test.turned else {"sweep": s}


def _upload(made: Made, role: str, s: Complexes) -> Upload:
    bench, test = made.bench, made.test
    seen = demo_bench.read(bench, s, role, *made.words)
    comments = (
        "Invented sweep of the demo scenario: no real device was measured",
        f"{made.device.tag}, {role}, {test.measured_on.isoformat()}, {bench.name} of {made.device.owner}",
    )
    data = demo_files.touchstone(bench.freq_hz, seen, unit=bench.unit, style=bench.style, comments=comments)
    name = f"{made.device.tag} {role} {test.measured_on.isoformat()}.s{s.shape[1]}p"
    return Upload(name.replace(" ", "_"), data)


def _readings(made: Made) -> tuple[dict[str, float], ...]:
    """Rejection read off a screen to half a decibel."""
    if not made.test.readings_mhz:
        return ()
    freq_hz = made.bench.freq_hz
    z_ohm = choke_z_ohm(made.recipe, made.build, freq_hz)
    rejection_db = loss_db(demo_bench.common_mode(made.bench, z_ohm)[:, 1, 0])
    return tuple(
        {
            "frequency_hz": mhz * MEGAHERTZ,
            "value": round(2 * float(np.interp(mhz * MEGAHERTZ, freq_hz, rejection_db))) / 2,
        }
        for mhz in made.test.readings_mhz
    )
