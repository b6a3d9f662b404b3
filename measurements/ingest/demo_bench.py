"""The demo's benches: what a jig and an analyser add to a device on its way into a file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.ingest.demo_transformers import Z0_OHM, input_z_ohm, shunt_admittance
from measurements.ingest.demo_windings import stream
from measurements.rf.sweep import Complexes, Floats
from measurements.rf.two_port import reflection, series_impedance, to_s

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
        """(F,) the frequencies it sweeps."""
        return np.linspace(self.start_mhz * 1e6, self.stop_mhz * 1e6, self.points)


def common_mode(bench: Bench, z_ohm: Complexes) -> Complexes:
    """S (F, 2, 2) of a device of impedance (F,) between the clips, which leak across it."""
    leaking = 1 / (1 / z_ohm + _siemens(bench, bench.leak_pf))
    return _between_clips(bench, series_impedance(_link_ohm(bench) + leaking, bench.points))


def jig(bench: Bench, role: str) -> Complexes:
    """S (F, 2, 2) of the jig alone: closed on itself, clips linked, or nothing attached."""
    series_ohm = {
        "jig_through": np.full(bench.points, CLIP_OHM + 0j),
        "jig_short": _link_ohm(bench),
        "jig_open": _link_ohm(bench) + 1 / _siemens(bench, bench.leak_pf),
    }[role]
    return _between_clips(bench, series_impedance(series_ohm, bench.points))


def through(bench: Bench, abcd: Complexes) -> Complexes:
    """S (F, 2, 2) of a two-port (ABCD) between the clips; half the leads on either side."""
    lead = series_impedance(_link_ohm(bench) / 2, bench.points)
    return _between_clips(bench, lead @ abcd @ lead)


def ended(bench: Bench, abcd: Complexes, far_siemens: Complexes | float) -> Complexes:
    """S (F, 1, 1) of a two-port's near side, its far side ended in an admittance.

    far_siemens: (F,) or one value; 0 leaves it open, 1/CLIP_OHM is a short.
    """
    lead = series_impedance(_link_ohm(bench) / 2, bench.points)
    z_ohm = input_z_ohm(shunt_admittance(_siemens(bench, bench.shunt_pf)) @ lead @ abcd, far_siemens)
    return reflection(z_ohm, Z0_OHM).reshape(-1, 1, 1)


def read(bench: Bench, s: Complexes, *what: str) -> Complexes:
    """`s` (F, P, P) as the analyser reads it; `what` names the sweep, so that each has its own noise.

    An analyser that drives port 1 only writes zeros for what it did not measure.
    """
    noise = stream("noise", bench.name, *what).standard_normal((2, *s.shape))
    seen = s + bench.noise * (noise[0] + 1j * noise[1])
    if s.shape[1] > 1 and not bench.both_ways:
        seen[:, :, 1] = 0
    return seen


def _between_clips(bench: Bench, abcd: Complexes) -> Complexes:
    clip = shunt_admittance(_siemens(bench, bench.shunt_pf))
    return to_s(clip @ abcd @ clip, (Z0_OHM, Z0_OHM))


def _siemens(bench: Bench, picofarad: float) -> Complexes:
    return 2j * np.pi * bench.freq_hz * picofarad * 1e-12


def _link_ohm(bench: Bench) -> Complexes:
    return CLIP_OHM + 2j * np.pi * bench.freq_hz * bench.link_nh * 1e-9
