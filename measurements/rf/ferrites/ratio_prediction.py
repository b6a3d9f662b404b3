"""Loss and match of new ratio devices: draws of their parts through the equivalent circuit.

Permeability and the capacitance of windings come from what the group's chokes taught (`learned_windings`);
the
other parts come from the priors of `ratio_windings`. A draw is one device. Nothing is computed outside the
table of
the mix, nor where a voltage device's wire is longer than a sixth of a wavelength.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy import special

from measurements.rf.bands import Band
from measurements.rf.ferrites import learned_windings, prediction, ratio_circuit
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import LearnedWindings
from measurements.rf.ferrites.prediction import ModelDraws
from measurements.rf.ferrites.ratio_circuit import LineParts, LoadedFigures, TransformerParts
from measurements.rf.ferrites.ratio_windings import LIGHT_M_PER_S, PRIORS, RatioWinding
from measurements.rf.sweeps.sweep import Complexes, Floats

POINTS_IN_BAND = 5
PART_COUNT = 6
LOSS_LIMIT_DB, SWR_LIMIT = 0.5, 1.5  # house defaults (trade's reference page, sections 3.2 and 3.3)


@dataclass(frozen=True)
class Interval:
    """Of new devices: one in ten is below low, half are below median, one in ten is above high."""

    low: float
    median: float
    high: float


@dataclass(frozen=True)
class RatioBand:
    """Worst point of a band. Intervals are None where `why_not` names what the model does not reach.

    dissipative_db, heat_w: the part of the loss that turns into heat, and that of 100 W, at small signals.
    chance: of holding both limits.
    """

    band: str
    loss_db: Interval | None = None
    swr: Interval | None = None
    dissipative_db: Interval | None = None
    heat_w: Interval | None = None
    chance: float | None = None
    why_not: str = ""


def draw_ratio_figures(
    believed: LearnedWindings,
    table: Permeability,
    wound: RatioWinding,
    freq_hz: Floats,
    draws: int | None = None,
) -> LoadedFigures:
    """Compute loss and match (S, F) of drawn devices between 50 ohm and the nominal load.

    NaN outside the table. draws: None for the usual number.
    """
    count = prediction.DRAWS if draws is None else draws
    drawn = prediction.draw_model(believed, wound.mix, table, freq_hz, count)
    build = _build_lines if wound.principle == "current" else _build_transformer
    return ratio_circuit.compute_loaded_figures(build(drawn, wound, _draw_parts(count)), float(wound.ratio))


def compute_middle_figures(
    believed: LearnedWindings, table: Permeability, wound: RatioWinding, freq_hz: Floats
) -> LoadedFigures:
    """Compute loss and match (1, F) of the middle device: every part at its middle."""
    mean, _ = believed.of(wound.mix)
    log_mu = np.log(table.at(freq_hz)) + learned_windings.log_mu_correction(mean, freq_hz)
    nothing = np.zeros((1, prediction.SHIFT_COUNT))
    drawn = ModelDraws(freq_hz, log_mu[None], mean[None], nothing, np.zeros((1, freq_hz.size), complex))
    build = _build_lines if wound.principle == "current" else _build_transformer
    return ratio_circuit.compute_loaded_figures(
        build(drawn, wound, np.zeros((1, PART_COUNT))), float(wound.ratio)
    )


def _build_transformer(drawn: ModelDraws, wound: RatioWinding, normal: Floats) -> Complexes:
    step = wound.far_turns / wound.near_turns
    log_mu = _log_mu(drawn)
    near_h = ratio_circuit.MU0_H_PER_M * wound.near_turns**2 * wound.factor_m
    copper_ohm = ratio_circuit.build_copper_ohm(
        drawn.freq_hz, wound.near_turns * wound.turn_m, wound.copper_mm
    )
    # the far winding's wire, seen through the square of the turns ratio: (step - 1) as long as the near one's
    copper_ohm = copper_ohm * (1 + (step - 1) / step**2)
    leakage_h, line_f = _draw_coupling(wound, normal)
    far_f = PRIORS.far_lead_f.draw(normal[:, 2])
    if not wound.filar:
        far_f = far_f + PRIORS.far_share.draw(normal[:, 1]) * np.exp(_log_stray(drawn, wound))
    return ratio_circuit.build_transformer_abcd(
        drawn.freq_hz,
        TransformerParts(
            magnetising_ohm=2j * np.pi * drawn.freq_hz * near_h * np.exp(log_mu),
            turns_ratio=step,
            leakage_h=leakage_h[:, None],
            copper_ohm=PRIORS.proximity.draw(normal[:, 4])[:, None] * copper_ohm,
            near_share=0.0 if wound.filar else _uniform(normal[:, 5])[:, None],
            near_f=(wound.compensation_f + PRIORS.near_lead_f.draw(normal[:, 3]) + line_f)[:, None],
            far_f=far_f[:, None],
        ),
    )


def _draw_coupling(wound: RatioWinding, normal: Floats) -> tuple[Floats, Floats]:
    """Draw leakage at the near side, henry, and capacitance between side-by-side wires, farad; both (S,).

    n wires side by side are n-1 short lines of impedance Z and delay T: in series at the far side (n-1) Z T,
    which the near side sees over n^2, and (n-1) T/Z across one winding (first order of the line; own
    derivation).
    """
    if not wound.filar:
        share = PRIORS.leakage_share.draw(normal[:, 0])
        return share * ratio_circuit.MU0_H_PER_M * wound.turn_m * wound.near_turns**2, np.zeros(len(normal))
    line_ohm, delay_s = _draw_line(wound, normal, wound.near_turns * wound.turn_m)
    lines = wound.filar - 1
    return lines * line_ohm * delay_s / wound.filar**2, lines * delay_s / line_ohm


def _build_lines(drawn: ModelDraws, wound: RatioWinding, normal: Floats) -> Complexes:
    lines = wound.lines or 1
    line_ohm, delay_s = _draw_line(wound, normal, wound.wire_length_m)
    choking_s = 1 / (2j * np.pi * drawn.freq_hz * wound.build_winding().l0_h * np.exp(_log_mu(drawn)))
    choking_s = choking_s + 2j * np.pi * drawn.freq_hz * np.exp(_log_stray(drawn, wound))[:, None]
    copper_ohm = 2 * ratio_circuit.build_copper_ohm(drawn.freq_hz, wound.wire_length_m, _conductor_mm(wound))
    return ratio_circuit.build_lines_abcd(
        drawn.freq_hz,
        LineParts(
            choking_ohm=1 / choking_s,
            lines=lines,
            line_ohm=line_ohm[:, None],
            delay_s=delay_s[:, None],
            copper_ohm=PRIORS.proximity.draw(normal[:, 4])[:, None] * copper_ohm,
            near_f=(wound.compensation_f + PRIORS.near_lead_f.draw(normal[:, 3]))[:, None],
            far_f=PRIORS.far_lead_f.draw(normal[:, 2])[:, None],
        ),
    )


def _conductor_mm(wound: RatioWinding) -> float:
    """Estimate the inner conductor of a coax as a fifth of its diameter (own estimate), which loses most."""
    return wound.copper_mm / 3 if wound.style == "coax" else wound.copper_mm


def _draw_line(wound: RatioWinding, normal: Floats, length_m: float) -> tuple[Floats, Floats]:
    """Draw characteristic impedance, ohm, and delay, second, both (S,)."""
    coax = wound.style == "coax"
    line_ohm = (PRIORS.coax_ohm if coax else PRIORS.pair_ohm).draw(normal[:, 0])
    speed = (PRIORS.coax_speed if coax else PRIORS.pair_speed).draw(normal[:, 1])
    return line_ohm, length_m / (LIGHT_M_PER_S * speed)


def _log_mu(drawn: ModelDraws) -> Complexes:
    found: Complexes = drawn.log_mu + (drawn.shifts[:, 0] + drawn.shifts[:, 2])[:, None] + drawn.misfit
    return found


def _log_stray(drawn: ModelDraws, wound: RatioWinding) -> Floats:
    by_law = learned_windings.log_stray_f(drawn.coefficients, wound.build_winding())
    found: Floats = by_law + drawn.shifts[:, 1] + drawn.shifts[:, 3]
    return found


def predict_bands(
    believed: LearnedWindings,
    table: Permeability,
    wound: RatioWinding,
    bands: Sequence[Band],
    *,
    loss_limit_db: float = LOSS_LIMIT_DB,
    swr_limit: float = SWR_LIMIT,
) -> tuple[RatioBand, ...]:
    """Predict the worst point of every band, and the chance to hold both limits there."""
    return tuple(_predict_band(believed, table, wound, band, (loss_limit_db, swr_limit)) for band in bands)


def _predict_band(
    believed: LearnedWindings,
    table: Permeability,
    wound: RatioWinding,
    band: Band,
    limits: tuple[float, float],
) -> RatioBand:
    freq_hz = list_band_points(band)
    why_not = explain_reach(table, wound, freq_hz)
    if why_not:
        return RatioBand(band.name, why_not=why_not)
    figures = draw_ratio_figures(believed, table, wound, freq_hz)
    loss_db, swr = figures.loss_db.max(axis=1), figures.swr.max(axis=1)
    heat_db = figures.dissipative_db.max(axis=1)
    found = RatioBand(band.name, build_interval(loss_db), build_interval(swr), build_interval(heat_db))
    holds = (loss_db <= limits[0]) & (swr <= limits[1])
    return replace(
        found, heat_w=build_interval(100 * (1 - 10 ** (-heat_db / 10))), chance=float(holds.mean())
    )


def list_band_points(band: Band) -> Floats:
    """List frequencies (5,) from edge to edge: the worst point of a smooth curve lies near one of them."""
    return np.linspace(band.start_hz, band.stop_hz, POINTS_IN_BAND)


def explain_reach(table: Permeability, wound: RatioWinding, freq_hz: Floats) -> str:
    """Say why nothing is predicted at these frequencies; empty where it is."""
    if not table.covers(freq_hz):
        low, high = table.freq_hz[0] / 1e6, table.freq_hz[-1] / 1e6
        return f"the table of mix {wound.mix} reaches from {low:.3g} to {high:.3g} MHz only"
    if freq_hz.max() > wound.lumped_to_hz:
        return (
            f"{wound.wire_length_m:.1f} m of wire is longer than a sixth of the wavelength above "
            f"{wound.lumped_to_hz / 1e6:.0f} MHz, and this circuit does not hold there"
        )
    return ""


def build_interval(values: Floats) -> Interval:
    """Build the interval of the middle 80 % of draws (S,)."""
    low, median, high = prediction.compute_interval(values)
    return Interval(float(low), float(median), float(high))


def _uniform(normal: Floats) -> Floats:
    """Turn normal draws into draws from 0 to 1, evenly (the normal distribution function)."""
    found: Floats = special.ndtr(normal)
    return found


@lru_cache(maxsize=4)
def _draw_parts(draws: int) -> Floats:
    """Draw normal values (S, 6), the same every time, with their mirror image; S even."""
    half = np.random.default_rng(prediction.SEED + 1).standard_normal((draws // 2, PART_COUNT))
    found: Floats = np.concatenate([half, -half])
    found.setflags(write=False)
    return found
