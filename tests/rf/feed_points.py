"""Simulated antennas and devices at the feed point, written apart from the code that judges them.

An antenna is three impedances: a leg each from terminal A and B to a common point, and the way from there
to earth. What hangs at the shell of the analyser (a hand, a lead) is a capacitance to earth. With a jumper
it lies beside leg B; through a choke the choke parts it. Legs are series resonators, which is what a
dipole, loop or vertical is near its resonance (textbook); an end-fed wire is a parallel resonator; a
doublet with open line is such a dipole seen through a lossless line of 450 ohm. Figures are common
practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

FREQ_HZ = np.linspace(1e6, 35e6, 1701)
BANDS_HZ = {"80m": (3.5e6, 4.0e6), "40m": (7.0e6, 7.3e6), "20m": (14.0e6, 14.35e6), "10m": (28.0e6, 29.7e6)}


@dataclass(frozen=True)
class Antenna:
    """r_ohm at resonance f0_hz, quality q; state: healthy, detuned, corroded, broken."""

    family: str
    band: str
    ratio: int
    f0_hz: float
    r_ohm: float
    q: float
    split: float  # share of leg A
    earth_ohm: complex
    line_m: float = 0.0
    added_ohm: float = 0.0
    broken: bool = False
    state: str = "healthy"


@dataclass(frozen=True)
class Device:
    """loss_db: one way; leak and shunt: reactances at 30 MHz that detune it; fault: "", open, shorted."""

    ratio: int
    chokes: bool
    loss_db: float
    leak_ohm: float
    shunt_ohm: float
    mag_ohm_per_mhz: float
    choke_ohm: complex
    fault: str = ""
    near_side: bool = True
    state: str = "healthy"


def draw_antenna(rng: np.random.Generator, family: str, band: str) -> Antenna:
    start, stop = BANDS_HZ[band]
    f0 = rng.uniform(start, stop)
    makes = {
        "dipole": (1, rng.uniform(45, 80), rng.uniform(8, 14), 0.5),
        "loop": (1, rng.uniform(90, 130), rng.uniform(5, 9), 0.5),
        "loop_4_1": (4, rng.uniform(110, 260), rng.uniform(5, 9), 0.5),
        "vertical": (1, rng.uniform(28, 60), rng.uniform(7, 25), 0.85),
        "end_fed_9_1": (9, rng.uniform(250, 800), rng.uniform(1.5, 4), 0.9),
        "end_fed_49_1": (49, rng.uniform(1700, 3800), rng.uniform(6, 12), 0.95),
        "doublet": (4, rng.uniform(55, 90), rng.uniform(8, 13), 0.5),
    }
    ratio, r_ohm, q, split = makes[family]
    line = rng.uniform(5, 25) if family == "doublet" else 0.0
    earth = complex(rng.uniform(30, 300), rng.uniform(-200, 200))
    return Antenna(family, band, ratio, f0, r_ohm, q, split, earth, line)


def spoil_antenna(rng: np.random.Generator, antenna: Antenna, state: str) -> Antenna:
    if state == "detuned":
        return replace(
            antenna, f0_hz=antenna.f0_hz * (1 + rng.choice([-1, 1]) * rng.uniform(0.05, 0.12)), state=state
        )
    if state == "corroded":  # a joint of tens of ohms carries the current
        return replace(antenna, added_ohm=antenna.r_ohm * rng.uniform(1.2, 4.0), state=state)
    return replace(antenna, broken=True, state="broken") if state == "broken" else antenna


def weather(rng: np.random.Generator, antenna: Antenna) -> Antenna:
    """The same healthy antenna on another day."""
    return replace(
        antenna,
        f0_hz=antenna.f0_hz * (1 + rng.normal(0, 0.004)),
        r_ohm=antenna.r_ohm * (1 + rng.normal(0, 0.05)),
        earth_ohm=antenna.earth_ohm * (1 + rng.normal(0, 0.2)),
    )


def legs(antenna: Antenna) -> np.ndarray:
    """Impedance between the terminals, (F,), ohm."""
    x = FREQ_HZ / antenna.f0_hz - antenna.f0_hz / FREQ_HZ
    if antenna.family == "end_fed_49_1":
        z = antenna.r_ohm / (1 + 1j * antenna.q * x) + antenna.added_ohm
    else:
        z = antenna.r_ohm * (1 + 1j * antenna.q * x) + antenna.added_ohm
    if antenna.broken:  # the wire hangs on by the capacitance of what is left of it
        z = 15 + 1 / (2j * np.pi * FREQ_HZ * 12e-12) + 0 * z
    return z


def between_terminals(antenna: Antenna, hanging_ohm: np.ndarray) -> np.ndarray:
    """(F,) ohm at the device's far side; hanging_ohm: what joins the shell to earth."""
    z = legs(antenna)
    if antenna.line_m:
        beta = 2 * np.pi * FREQ_HZ / (3e8 * 0.9) * antenna.line_m
        t = 1j * np.tan(beta)
        z = 450 * (z + 450 * t) / (450 + z * t)
    leg_a, leg_b = antenna.split * z, (1 - antenna.split) * z
    around = hanging_ohm + antenna.earth_ohm
    return leg_a + leg_b * around / (leg_b + around)


def hanging(rng: np.random.Generator) -> np.ndarray:
    return 1 / (2j * np.pi * FREQ_HZ * rng.uniform(5e-12, 40e-12))


def draw_device(rng: np.random.Generator, ratio: int, state: str) -> Device:
    most = 0.15 if ratio < 49 else 0.1  # series part at 30 MHz: SWR within 1.5 together with the shunt
    chokes = ratio in (1, 4) and rng.random() < 0.7
    made = Device(
        ratio,
        chokes,
        loss_db=rng.uniform(0.1, 0.4) if ratio < 49 else rng.uniform(0.4, 1.0),
        leak_ohm=most * 50 * rng.uniform(0.2, 1.0),
        shunt_ohm=50 / (most * rng.uniform(0.2, 1.0)),
        mag_ohm_per_mhz=50 / rng.uniform(0.2, 0.7),
        choke_ohm=complex(rng.uniform(900, 4000), rng.uniform(-1500, 1500)),
    )
    if state == "lossy":
        return replace(made, loss_db=rng.uniform(6, 10), state=state)
    if state not in ("open", "shorted"):
        return made
    return replace(made, fault=state, near_side=bool(rng.random() < 0.5), state=state)


def seen_through(
    rng: np.random.Generator, device: Device, antenna: Antenna, hanging_ohm: np.ndarray
) -> np.ndarray:
    """(F,) S11 at 50 ohm through the device."""
    parted = device.choke_ohm if device.chokes else 0.0
    z = between_terminals(antenna, hanging_ohm + parted) / device.ratio
    jf = 1j * FREQ_HZ / 30e6
    gap = 1 / (2j * np.pi * FREQ_HZ * rng.uniform(0.5e-12, 2e-12))
    touch = rng.uniform(0.05, 1.0)
    if (
        device.fault and not device.near_side
    ):  # a gap or a touch on the far side is transformed like the antenna
        z = z + gap / device.ratio if device.fault == "open" else 1 / (1 / z + device.ratio / touch)
    one = 1 / (1 / z + 1 / (1j * device.mag_ohm_per_mhz * FREQ_HZ / 1e6) + jf / device.shunt_ohm)
    seen = one + jf * device.leak_ohm
    s11 = (seen - 50) / (seen + 50) * 10 ** (-2 * device.loss_db / 20)
    if device.fault and device.near_side:
        inside = 50 * (1 + s11) / (1 - s11)
        broken = inside + gap if device.fault == "open" else 1 / (1 / inside + 1 / touch)
        s11 = (broken - 50) / (broken + 50)
    return s11


def seen_by_jumper(antenna: Antenna, hanging_ohm: np.ndarray) -> np.ndarray:
    """(F,) S11 at 50 ohm with the device bypassed."""
    z = between_terminals(antenna, hanging_ohm)
    return (z - 50) / (z + 50)


def as_read(rng: np.random.Generator, s11: np.ndarray) -> np.ndarray:
    """What an analyser with residuals of 0.01 reads: an offset, a tracking error and noise."""
    phase = np.exp(2j * np.pi * rng.uniform(size=3))
    noise = 0.0005 * (rng.normal(size=s11.shape) + 1j * rng.normal(size=s11.shape))
    return s11 * (1 + 0.004 * phase[0]) + 0.004 * phase[1] + 0.002 * phase[2] * s11**2 + noise
