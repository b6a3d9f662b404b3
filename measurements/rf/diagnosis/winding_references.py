"""What a winding should show: by the published curves of its design, or by its recipe alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from measurements.rf.diagnosis.change_hypotheses import WindingReference
from measurements.rf.diagnosis.change_posterior import FITTED_POINTS
from measurements.rf.diagnosis.outlying_curve import DesignRange, RecipeFacts
from measurements.rf.ferrites import winding_terms
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import BuildSpreads
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.kinds import choke_figures
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

SPREAD_OF_MEDIAN = math.pi / 2  # variance of a median over that of a mean of normal values (textbook)
MIDDLE_80 = 2 * 1.2816  # width of the middle 80 % of a normal distribution, in standard deviations
PRIOR_DEVICES = 4.0  # how many devices the usual spreads count as beside a design's own range
LEAST_WIDTH = 0.03  # standard deviation of ln |Z|: less is the bench, not the builds
FAR_FROM_RESONANCE = 3.0  # sum of squares of how |Z| moves with core and capacitance
LEAST_STRAY_F = 0.2e-12
CORE_TOLERANCE = 0.125  # standard deviation of a core of known size: makers state 20 to 25 % as their limit
UNASKED_ODDS = (
    8.0  # of every device that comes, nineteen in twenty are what their recipes say (house default)
)
TABLE_MISFIT = (
    0.06  # how far the curve of a build departs from tables and law beyond its level (own estimate)
)


@dataclass(frozen=True)
class RecipeWinding:
    """A winding by its recipe. per_mu_h: inductance of one line at a permeability of 1, henry.

    stray: mean and standard deviation of ln of one line's capacitance. tolerance: standard deviation of ln of
    the core's level. count: turns, or cores where `beads`. lines: how many like windings lie in parallel.
    """

    mix: str
    count: int
    per_mu_h: float
    stray: tuple[float, float]
    tolerance: float = CORE_TOLERANCE
    lines: int = 1
    beads: bool = False


def build_recipe_winding(
    wound: WindingModel, cores: int = 1, tolerance: float | None = None
) -> RecipeWinding:
    """Build the winding of the model before any evidence. tolerance: of A_L as its maker states, a share.

    cores: how many a single pass goes through: they are what is counted there.
    """
    mean, covariance = winding_terms.build_law_prior()
    row, spreads = winding_terms.build_law_row(wound), BuildSpreads()
    of_builds = spreads.design[1] ** 2 + spreads.device[1] ** 2
    beads = wound.turns == 1
    return RecipeWinding(
        mix=wound.mix,
        count=cores if beads else wound.turns,
        per_mu_h=wound.l0_h,
        stray=(float(row @ mean), math.sqrt(float(row @ covariance @ row) + of_builds)),
        tolerance=CORE_TOLERANCE if tolerance is None else tolerance / 2,
        lines=wound.lines,
        beads=beads,
    )


def build_recipe_reference(
    made: RecipeWinding, freq_hz: Floats, mu: Mapping[str, Complexes]
) -> WindingReference:
    """Build the usual device of a recipe at (F,); `mu` holds the recipe's own mix among others."""
    core_s = 1 / (2j * np.pi * freq_hz * made.per_mu_h * mu[made.mix])
    level = math.hypot(made.tolerance, BuildSpreads().design[0])
    return WindingReference(
        freq_hz,
        made.lines * core_s,
        made.lines * math.exp(made.stray[0]),
        level,
        made.stray[1],
        TABLE_MISFIT,
        mu,
        made.count,
        made.mix,
        made.beads,
        built_odds=UNASKED_ODDS,
    )


def build_design_reference(
    design: DesignRange,
    judged: Bools,
    made: RecipeFacts,
    mixes: Mapping[str, Permeability],
    spreads: BuildSpreads,
) -> WindingReference:
    """Build the median device of a design at `judged`, of which at most 40 points are taken."""
    freq_hz = design.freq_hz[judged]
    own = mixes.get(made.mix)
    stray_f = max(find_median_stray_f(design, own), LEAST_STRAY_F)
    stray_s = (2j * np.pi * freq_hz * stray_f).astype(np.complex128)
    core_s = 1 / design.z_ohm[judged] - stray_s
    level, stray = _estimate_spreads(design, judged, core_s, stray_s, spreads)
    more = math.sqrt(1 + SPREAD_OF_MEDIAN / design.devices)
    covered = {name: mix.at(freq_hz) for name, mix in mixes.items() if mix.covers(freq_hz)}
    return WindingReference(
        freq_hz,
        core_s,
        stray_f,
        more * level,
        more * stray,
        more * spreads.misfit_device,
        covered,
        made.count,
        made.mix,
        made.beads,
        _weigh_points(design, judged),
    )


def thin_points(judged: Bools) -> Bools:
    """Choose at most 40 of the points of a grid, evenly."""
    places = np.flatnonzero(judged)
    chosen = places[np.unique(np.linspace(0, places.size - 1, FITTED_POINTS).round().astype(int))]
    kept: Bools = np.zeros(judged.size, dtype=np.bool_)
    kept[chosen] = True
    return kept


def _estimate_spreads(
    design: DesignRange, judged: Bools, core_s: Complexes, stray_s: Complexes, usual: BuildSpreads
) -> tuple[float, float]:
    """Estimate those of level and capacitance from the width of the design's own range, held by the usual
    ones."""
    width = np.log(design.high_ohm[judged] / design.low_ohm[judged]) / MIDDLE_80
    total_s = core_s + stray_s
    columns = np.stack([(core_s / total_s).real ** 2, (stray_s / total_s).real ** 2], axis=1)
    # near a resonance widths do not grow with either spread as they do elsewhere, and say little of it
    sure = (columns.sum(axis=1) < FAR_FROM_RESONANCE) / np.maximum(width, LEAST_WIDTH) ** 2
    sure = (sure / max(sure.mean(), 1e-12))[:, None]
    left = np.maximum(width**2 - 0.5 * usual.misfit_device**2, 0.0)
    device = np.square(usual.device)
    # points of one range move together: all of them count as so many devices, not as so many points
    counted = design.devices / len(columns) * (sure * columns).T
    own, right = counted @ columns + PRIOR_DEVICES * np.eye(2), counted @ left + PRIOR_DEVICES * device
    level, stray = np.maximum(np.linalg.solve(own, right), device / 4)
    return math.sqrt(float(level)), math.sqrt(float(stray))


def _weigh_points(design: DesignRange, judged: Bools) -> Floats:
    """Weigh how much each point counts, up to 1: less where the devices of the design differ more than usual.

    Near a sharp resonance each device has its own, and the median is no device's curve.
    """
    width = np.log(design.high_ohm[judged] / design.low_ohm[judged])
    usual = float(np.median(width))
    counts: Floats = np.divide(usual, width, out=np.ones_like(width), where=width > usual)
    return counts


def find_median_stray_f(design: DesignRange, permeability: Permeability | None) -> float:
    """Find the capacitance of the median curve, by the table or from above its resonance; 0 where none
    shows."""
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
