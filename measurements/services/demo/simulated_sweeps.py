"""What a demo test is sent with: its settings and its files, computed from the device and the bench.

A kind or a method is one row of `_MADE`: which sweeps it takes, by role.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from measurements.rf.impedance_ratio import NOMINAL_OHM, parse_ratio
from measurements.rf.networks.two_port import build_series_abcd, loss_db, stack_two_port, turn_two_port
from measurements.rf.sweeps.sweep import Complexes
from measurements.services.demo import benches
from measurements.services.demo.benches import Bench
from measurements.services.demo.scenarios import PlannedDevice, PlannedTest
from measurements.services.demo.transformers import (
    compute_balanced_ports,
    compute_shunt_abcd,
    compute_two_port,
)
from measurements.services.demo.windings import (
    BuildVariation,
    choke_z_ohm,
    create_random_stream,
    draw_build_variation,
)
from measurements.services.uploads.dc_settings import DcSettings
from measurements.services.uploads.uploads import TestSettings, Upload

LOAD_SPREAD = 0.01  # a 1 % resistor, measured before it is used
MEGAHERTZ = 1e6
ANTENNA_BANDS = ("40m",)  # the dipole is cut for it
ANTENNA_HZ, ANTENNA_OHM, ANTENNA_Q = 7.12e6, 55.0, 5.0


@dataclass(frozen=True)
class DeviceOnBench:
    """A device on a bench: everything its sweeps follow from. recipe: in normal form."""

    device: PlannedDevice
    test: PlannedTest
    bench: Bench
    recipe: Mapping[str, Any]
    partner: PlannedDevice | None = None

    @property
    def build(self) -> BuildVariation:
        return draw_build_variation(self.device.owner, self.device.tag)

    @property
    def abcd(self) -> Complexes:
        return compute_two_port(self.recipe, self.build, self.bench.freq_hz)

    @property
    def load_ohm(self) -> float:
        """Return the resistor across the far side, as its owner measured it: four digits."""
        nominal = float(parse_ratio(self.recipe["ratio"])) * NOMINAL_OHM
        off = create_random_stream("load", *self.words).standard_normal()
        return float(f"{nominal * (1 + LOAD_SPREAD * float(np.clip(off, -2, 2))):.4g}")

    @property
    def words(self) -> tuple[str, ...]:
        """Return the name of this test, which no other has."""
        test = self.test
        return self.device.owner, self.device.tag, test.kind, test.method or "", test.measured_on.isoformat()


def build_settings(made: DeviceOnBench) -> TestSettings:
    """Return the settings its owner gives with the test."""
    loaded = made.test.kind == "load_match" or made.test.method == "one_port"
    return TestSettings(
        kind=made.test.kind,
        method=made.test.method,
        ratio=str(made.recipe["ratio"]),
        load_ohm=made.load_ohm if loaded else None,
        calibrated=made.test.calibrated,
        readings=_build_readings(made),
        antenna_bands=ANTENNA_BANDS if made.test.kind == "in_situ" else (),
        dc=DcSettings(made.test.dc_readings) if made.test.dc_readings else None,
    )


def build_uploads(made: DeviceOnBench) -> dict[str, Upload]:
    """Return the files by role; none for a test whose values were read off a screen or an ohmmeter."""
    if made.test.readings_mhz or made.test.dc_readings:
        return {}
    sweeps = _SWEEPS_BY_KIND[made.test.kind, made.test.method](made)
    return {role: _build_upload(made, role, s) for role, s in sweeps.items()}


def _compute_common_mode(made: DeviceOnBench) -> dict[str, Complexes]:
    s = benches.compute_common_mode_s(made.bench, choke_z_ohm(made.recipe, made.build, made.bench.freq_hz))
    jig = {role: benches.compute_jig_s(made.bench, role) for role in made.bench.sends_jig}
    return {**_add_turned_sweep(made, s), **jig}


def _compute_through(made: DeviceOnBench) -> dict[str, Complexes]:
    return _add_turned_sweep(made, benches.compute_through_s(made.bench, made.abcd))


def _compute_load_match(made: DeviceOnBench) -> dict[str, Complexes]:
    return {"sweep": benches.compute_terminated_s(made.bench, made.abcd, 1 / made.load_ohm)}


def _compute_one_port(made: DeviceOnBench) -> dict[str, Complexes]:
    ends = {"far_open": 0.0, "far_short": 1 / benches.CLIP_OHM, "far_load": 1 / made.load_ohm}
    return {
        role: benches.compute_terminated_s(made.bench, made.abcd, siemens) for role, siemens in ends.items()
    }


def _compute_back_to_back(made: DeviceOnBench) -> dict[str, Complexes]:
    if made.partner is None:
        raise ValueError("a back_to_back test of the scenario names its partner")
    other = compute_two_port(
        made.recipe, draw_build_variation(made.partner.owner, made.partner.tag), made.bench.freq_hz
    )
    swapped = stack_two_port(other[:, 1, 1], other[:, 0, 1], other[:, 1, 0], other[:, 0, 0])
    return {"sweep": benches.compute_through_s(made.bench, made.abcd @ swapped)}


def _compute_balance(made: DeviceOnBench) -> dict[str, Complexes]:
    """Return two sweeps, each with the third terminal ended; columns that were not driven stay zero."""
    if made.bench.both_ways:
        raise ValueError("the balance test of the scenario is written for an analyser that drives one port")
    s11, s21, s31 = compute_balanced_ports(made.recipe, made.build, made.bench.freq_hz)
    zero = np.zeros_like(s11)
    return {
        "sweep_12": stack_two_port(s11, zero, s21, zero),
        "sweep_13": stack_two_port(s11, zero, s31, zero),
    }


def _compute_in_situ(made: DeviceOnBench) -> dict[str, Complexes]:
    """Return at the feed point: through the device, and with a plain jumper in its place."""
    antenna = 1 / _antenna_ohm(made)
    fault = 0.0 if made.test.fault_ohm is None else 1 / made.test.fault_ohm
    bad = compute_shunt_abcd(np.full(antenna.shape, fault + 0j)) @ made.abcd
    jumper = build_series_abcd(benches.CLIP_OHM, antenna.size)
    ways = {"sweep": bad, "sweep_bypassed": jumper}
    return {role: benches.compute_terminated_s(made.bench, abcd, antenna) for role, abcd in ways.items()}


def _antenna_ohm(made: DeviceOnBench) -> Complexes:
    """Return a dipole for 40 m near its resonance: a series circuit of our own choosing."""
    detuning = made.bench.freq_hz / ANTENNA_HZ - ANTENNA_HZ / made.bench.freq_hz
    return ANTENNA_OHM * (1 + 1j * ANTENNA_Q * detuning)


_SWEEPS_BY_KIND: dict[tuple[str, str | None], Callable[[DeviceOnBench], dict[str, Complexes]]] = {
    ("common_mode", None): _compute_common_mode,
    ("load_match", None): _compute_load_match,
    ("insertion_loss", "direct"): _compute_through,
    ("insertion_loss", "renormalised"): _compute_through,
    ("insertion_loss", "one_port"): _compute_one_port,
    ("insertion_loss", "back_to_back"): _compute_back_to_back,
    ("balance", None): _compute_balance,
    ("in_situ", None): _compute_in_situ,
}


def _add_turned_sweep(made: DeviceOnBench, s: Complexes) -> dict[str, Complexes]:
    return {"sweep": s, "sweep_reversed": turn_two_port(s)} if made.test.turned else {"sweep": s}


def _build_upload(made: DeviceOnBench, role: str, s: Complexes) -> Upload:
    bench, test = made.bench, made.test
    seen = benches.simulate_reading(bench, s, role, *made.words)
    comments = (
        "Invented sweep of the demo scenario: no real device was measured",
        f"{made.device.tag}, {role}, {test.measured_on.isoformat()}, {bench.name} of {made.device.owner}",
    )
    data = benches.format_touchstone(
        bench.freq_hz, seen, unit=bench.unit, style=bench.style, comments=comments
    )
    name = f"{made.device.tag} {role} {test.measured_on.isoformat()}.s{s.shape[1]}p"
    return Upload(name.replace(" ", "_"), data)


def _build_readings(made: DeviceOnBench) -> tuple[dict[str, float], ...]:
    """Return rejection read off a screen to half a decibel."""
    if not made.test.readings_mhz:
        return ()
    freq_hz = made.bench.freq_hz
    z_ohm = choke_z_ohm(made.recipe, made.build, freq_hz)
    rejection_db = loss_db(benches.compute_common_mode_s(made.bench, z_ohm)[:, 1, 0])
    return tuple(
        {
            "frequency_hz": mhz * MEGAHERTZ,
            "value": round(2 * float(np.interp(mhz * MEGAHERTZ, freq_hz, rejection_db))) / 2,
        }
        for mhz in made.test.readings_mhz
    )
