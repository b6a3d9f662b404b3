"""What single change of a winding turns a design's median curve into one device's own?

A winding's admittance is that of its turns on the core, Y = 1/(j w L0 N^2 mu), with a capacitance beside
it. Other turns scale the first part by a real number, another mix by the ratio of two permeabilities, which
varies with frequency; a gap in the core adds an inductance beside it, a capacitance adds j w C, a leak a
conductance. Each is linear in what is unknown, so each is a least-squares fit, and the changes are told apart
by what is left over.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.diagnosis.outlying_curve import DesignRange
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.kinds import choke_figures
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats


@dataclass(frozen=True)
class CurveFit:
    """A change that might explain an own curve. A field at its neutral value was not changed.

    impedance_ratio: of the winding, own to median (turns squared, or the core). extra_f, leak_s: what lies
    across it beyond the median's. mix: another one, by name. changes: how many of these it takes.
    undone_ohm: (F,) the own curve with the change taken back. left_over: weighted rms of its natural
    logarithm (magnitude and phase) against the median.
    """

    undone_ohm: Complexes
    left_over: float
    changes: int
    impedance_ratio: float = 1.0
    extra_f: float = 0.0
    leak_s: float = 0.0
    mix: str | None = None
    median_stray_f: float = 0.0  # of the median, for comparison
    gap: float = 0.0  # of a cracked or half-open core: the gap's length over the core's path length


@dataclass(frozen=True)
class FitProblem:
    """An own curve (F,) beside a design's range, at the points that are judged.

    median_stray_f: the capacitance of the median curve, from the mix's table or from above its resonance.
    """

    design: DesignRange
    own_ohm: Complexes
    judged: Bools
    median_stray_f: float

    @property
    def omega(self) -> Floats:
        return 2 * np.pi * self.design.freq_hz[self.judged]

    @property
    def weight(self) -> Floats:
        """How much each point counts, up to 1: less where the devices of the design differ more than usual.

        Near a sharp resonance each device has its own, and the median is no device's curve.
        """
        width = np.log(self.design.high_ohm[self.judged] / self.design.low_ohm[self.judged])
        usual = float(np.median(width))
        counts: Floats = np.divide(usual, width, out=np.ones_like(width), where=width > usual)
        return counts

    @property
    def per_farad_s(self) -> Complexes:
        """Admittance of one farad, j w."""
        return (1j * self.omega).astype(np.complex128)

    @property
    def own_s(self) -> Complexes:
        return 1 / self.own_ohm[self.judged]

    @property
    def core_s(self) -> Complexes:
        """The median's admittance without its capacitance."""
        return 1 / self.design.z_ohm[self.judged] - self.stray_s

    @property
    def stray_s(self) -> Complexes:
        return self.per_farad_s * self.median_stray_f


def build_fit_problem(
    design: DesignRange, own_ohm: Complexes, judged: Bools, permeability: Permeability | None
) -> FitProblem:
    """The question with the median's capacitance found; 0 where no curve shows one."""
    return FitProblem(design, own_ohm, judged, _median_stray_f(design, permeability))


def list_fits(
    asked: FitProblem, mix: Permeability | None, others: Mapping[str, Permeability]
) -> list[CurveFit]:
    """Every change that was tried, whether or not it explains anything.

    mix: the recipe's own, None where no table is published; then no other mix is tried either.
    """
    found = [
        _fit(asked, turns=turns, stray=stray, leak=leak)
        for turns, stray, leak in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (0, 1, 1), (1, 0, 1))
    ]
    freq_hz = asked.design.freq_hz[asked.judged]
    if mix is not None and mix.covers(freq_hz):
        found.append(_gapped(asked, mix.at(freq_hz)))
        for name, other in others.items():
            if other.covers(freq_hz):
                found.append(_other_mix(asked, name, mix.at(freq_hz) / other.at(freq_hz)))
    return [fit for fit in found if fit is not None]


def _fit(asked: FitProblem, *, turns: int, stray: int, leak: int) -> CurveFit | None:
    """Y_own = a Y_core + j w (C + c) + g, with a = 1, c = 0, g = 0 where they are not asked for."""
    columns: dict[str, Complexes | None] = {
        "a": asked.core_s if turns else None,
        "c": asked.per_farad_s if stray else None,
        "g": np.ones(asked.omega.size, dtype=np.complex128) if leak else None,
    }
    fixed = asked.stray_s + (0 if turns else asked.core_s)
    solved = _solve_columns(asked, fixed, columns)
    a, c, g = solved.get("a", 1.0), solved.get("c", 0.0), solved.get("g", 0.0)
    if a <= 0 or g < 0 or asked.median_stray_f + c < 0:
        return None
    undone = (asked.own_s - g - asked.per_farad_s * (asked.median_stray_f + c)) / a + asked.stray_s
    return _finish_fit(
        asked, undone, changes=turns + stray + leak, impedance_ratio=1 / a, extra_f=c, leak_s=g
    )


def _gapped(asked: FitProblem, mu: Complexes) -> CurveFit | None:
    """Y_own = a Y_core (1 + g mu) + j w C': an air gap g of the path length, 1/mu_e = 1/mu + g (textbook).

    a within a core's tolerance, and C' within the spread of hands, are for the caller to judge.
    """
    columns: dict[str, Complexes | None] = {
        "a": asked.core_s,
        "ag": asked.core_s * mu,
        "c": asked.per_farad_s,
    }
    solved = _solve_columns(asked, np.zeros(asked.omega.size, dtype=np.complex128), columns)
    a, gap, own_stray_f = solved["a"], solved["ag"] / solved["a"], solved["c"]
    if a <= 0 or gap <= 0 or own_stray_f < 0:
        return None
    undone = (asked.own_s - asked.per_farad_s * own_stray_f) / (a * (1 + gap * mu)) + asked.stray_s
    extra_f = own_stray_f - asked.median_stray_f
    fit = _finish_fit(asked, undone, changes=2, impedance_ratio=1 / a, extra_f=extra_f)
    return None if fit is None else replace(fit, gap=gap)


def _other_mix(asked: FitProblem, name: str, mu_ratio: Complexes) -> CurveFit | None:
    """Y_own = a Y_core mu/mu_other + j w C': a within a core's tolerance is for the caller to judge."""
    columns: dict[str, Complexes | None] = {"a": asked.core_s * mu_ratio, "c": asked.per_farad_s}
    solved = _solve_columns(asked, np.zeros(asked.omega.size, dtype=np.complex128), columns)
    a, own_stray_f = solved["a"], solved["c"]
    if a <= 0 or own_stray_f < 0:
        return None
    undone = (asked.own_s - asked.per_farad_s * own_stray_f) / (a * mu_ratio) + asked.stray_s
    extra_f = own_stray_f - asked.median_stray_f
    return _finish_fit(asked, undone, changes=2, impedance_ratio=1 / a, extra_f=extra_f, mix=name)


def _solve_columns(
    asked: FitProblem, fixed: Complexes, columns: Mapping[str, Complexes | None]
) -> dict[str, float]:
    """Real coefficients of the columns that fit Y_own - fixed best, each point by its relative error."""
    used = {name: column for name, column in columns.items() if column is not None}
    weight = asked.weight / np.abs(asked.own_s)
    matrix = np.stack([column * weight for column in used.values()], axis=1)
    target = (asked.own_s - fixed) * weight
    scale = np.linalg.norm(matrix, axis=0)
    stacked = np.concatenate([matrix.real, matrix.imag]) / scale
    values = np.linalg.lstsq(stacked, np.concatenate([target.real, target.imag]), rcond=None)[0] / scale
    return {name: float(value) for name, value in zip(used, values, strict=True)}


def _finish_fit(
    asked: FitProblem,
    undone_s: Complexes,
    *,
    changes: int,
    impedance_ratio: float,
    extra_f: float = 0.0,
    leak_s: float = 0.0,
    mix: str | None = None,
) -> CurveFit | None:
    if not (np.isfinite(undone_s).all() and (np.abs(undone_s) > 0).all()):
        return None
    undone: Complexes = np.full(asked.own_ohm.size, complex(np.nan, np.nan))
    undone[asked.judged] = 1 / undone_s
    apart = np.abs(np.log(undone[asked.judged] / asked.design.z_ohm[asked.judged]))
    left_over = float(np.sqrt(np.average(apart**2, weights=asked.weight**2)))
    return CurveFit(undone, left_over, changes, impedance_ratio, extra_f, leak_s, mix, asked.median_stray_f)


def _median_stray_f(design: DesignRange, permeability: Permeability | None) -> float:
    known = design.known
    freq_hz, z_ohm = design.freq_hz[known], design.z_ohm[known]
    if freq_hz.size < 2:
        return 0.0
    if permeability is not None and permeability.covers(freq_hz):
        omega = 2 * np.pi * freq_hz
        columns = np.stack([1 / (1j * omega * permeability.at(freq_hz)), 1j * omega], axis=1)
        matrix = columns * np.abs(z_ohm)[:, None]
        target = np.abs(z_ohm) / z_ohm
        scale = np.linalg.norm(matrix, axis=0)
        stacked = np.concatenate([matrix.real, matrix.imag]) / scale
        solved = np.linalg.lstsq(stacked, np.concatenate([target.real, target.imag]), rcond=None)[0] / scale
        return max(float(solved[1]), 0.0)
    resonance_hz = choke_figures.self_resonance_hz(freq_hz, z_ohm)
    stray_f = float(choke_figures.stray_capacitance_f(freq_hz, z_ohm, resonance_hz))
    return 0.0 if np.isnan(stray_f) else stray_f
