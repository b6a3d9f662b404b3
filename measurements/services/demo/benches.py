"""The demo's benches: what a jig and an analyser add to a device on its way into a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from measurements.rf.networks.two_port import abcd_to_s, build_series_abcd, reflection_coefficient
from measurements.rf.sweeps.sweep import Complexes, Floats
from measurements.services.demo.transformers import Z0_OHM, compute_shunt_abcd, input_z_ohm
from measurements.services.demo.windings import create_random_stream

CLIP_OHM = 0.05


@dataclass(frozen=True)
class Bench:
    """One contributor's analyser and jig.

    link_nh: leads and link in series. leak_pf: across the open clips. shunt_pf: from either clip to the
    shield. noise: standard deviation of the real and of the imaginary part of every S-parameter.
    both_ways: whether the analyser drives port 2 as well. unit, style: of the Touchstone file.
    sends_jig: which jig sweeps go with a common-mode test.
    """

    name: str
    link_nh: float
    leak_pf: float
    shunt_pf: float
    noise: float
    start_mhz: float
    stop_mhz: float
    points: int
    both_ways: bool
    unit: str
    style: str
    sends_jig: tuple[str, ...] = ()

    @property
    def freq_hz(self) -> Floats:
        """Return (F,) the frequencies it sweeps."""
        return np.linspace(self.start_mhz * 1e6, self.stop_mhz * 1e6, self.points)


def compute_common_mode_s(bench: Bench, z_ohm: Complexes) -> Complexes:
    """Return S (F, 2, 2) of a device of impedance (F,) between the clips, which leak across it."""
    leaking = 1 / (1 / z_ohm + _siemens(bench, bench.leak_pf))
    return _compute_between_clips(bench, build_series_abcd(_link_ohm(bench) + leaking, bench.points))


def compute_jig_s(bench: Bench, role: str) -> Complexes:
    """Return S (F, 2, 2) of the jig alone: closed on itself, clips linked, or nothing attached."""
    series_ohm = {
        "jig_through": np.full(bench.points, CLIP_OHM + 0j),
        "jig_short": _link_ohm(bench),
        "jig_open": _link_ohm(bench) + 1 / _siemens(bench, bench.leak_pf),
    }[role]
    return _compute_between_clips(bench, build_series_abcd(series_ohm, bench.points))


def compute_through_s(bench: Bench, abcd: Complexes) -> Complexes:
    """Return S (F, 2, 2) of a two-port (ABCD) between the clips; half the leads on either side."""
    lead = build_series_abcd(_link_ohm(bench) / 2, bench.points)
    return _compute_between_clips(bench, lead @ abcd @ lead)


def compute_terminated_s(bench: Bench, abcd: Complexes, far_siemens: Complexes | float) -> Complexes:
    """Return S (F, 1, 1) of a two-port's near side, its far side ended in an admittance.

    far_siemens: (F,) or one value; 0 leaves it open, 1/CLIP_OHM is a short.
    """
    lead = build_series_abcd(_link_ohm(bench) / 2, bench.points)
    z_ohm = input_z_ohm(compute_shunt_abcd(_siemens(bench, bench.shunt_pf)) @ lead @ abcd, far_siemens)
    return reflection_coefficient(z_ohm, Z0_OHM).reshape(-1, 1, 1)


def simulate_reading(bench: Bench, s: Complexes, *what: str) -> Complexes:
    """Return `s` (F, P, P) as the analyser reads it; `what` names the sweep, so that each has its own noise.

    An analyser that drives port 1 only writes zeros for what it did not measure.
    """
    noise = create_random_stream("noise", bench.name, *what).standard_normal((2, *s.shape))
    seen = s + bench.noise * (noise[0] + 1j * noise[1])
    if s.shape[1] > 1 and not bench.both_ways:
        seen[:, :, 1] = 0
    return seen


def _compute_between_clips(bench: Bench, abcd: Complexes) -> Complexes:
    clip = compute_shunt_abcd(_siemens(bench, bench.shunt_pf))
    return abcd_to_s(clip @ abcd @ clip, (Z0_OHM, Z0_OHM))


def _siemens(bench: Bench, picofarad: float) -> Complexes:
    return 2j * np.pi * bench.freq_hz * picofarad * 1e-12


def _link_ohm(bench: Bench) -> Complexes:
    return CLIP_OHM + 2j * np.pi * bench.freq_hz * bench.link_nh * 1e-9


# Touchstone text of the demo's sweeps, in the units and styles that analysers write.
#
# `rf.sweeps.touchstone` writes one exact style; a demo shows what members really send.

_UNITS = {"Hz": (1.0, 0), "kHz": (1e3, 1), "MHz": (1e6, 4)}


def format_touchstone(
    freq_hz: Floats, s: Complexes, *, unit: str, style: str, comments: Sequence[str]
) -> bytes:
    """Return a file of one or two ports (order 11 21 12 22), 50 ohm.

    freq_hz: (F,); s: (F, P, P); unit: Hz, kHz or MHz; style: RI, MA or DB. A zero stays zero, whatever
    the style, because that is how an analyser writes what it did not measure.
    """
    scale, places = _UNITS[unit]
    columns = s.transpose(0, 2, 1).reshape(len(s), -1)
    first, second, first_places, second_places = _split_values(columns, style)
    pairs = np.stack([first, second], axis=-1).reshape(len(s), -1)
    pattern = " ".join([f"%.{places}f"] + [f"%.{first_places}f %.{second_places}f"] * columns.shape[1])
    head = [*(f"! {comment}" for comment in comments), f"# {unit} S {style} R 50"]
    rows = [pattern % (hz, *values) for hz, values in zip(freq_hz / scale, pairs.tolist(), strict=True)]
    return ("\n".join([*head, *rows]) + "\n").encode("ascii")


def _split_values(values: Complexes, style: str) -> tuple[Floats, Floats, int, int]:
    """Return the two numbers of each parameter and their decimal places."""
    if style == "RI":
        return values.real, values.imag, 7, 7
    size, angle = np.abs(values), np.degrees(np.angle(values))
    if style == "MA":
        return size, angle, 7, 3
    decibel = 20 * np.log10(size, out=np.zeros(size.shape), where=size > 0)
    return decibel, angle, 4, 3
