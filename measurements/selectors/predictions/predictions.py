"""What would this recipe show? The curve of new devices with its interval, as far as the tables reach."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Design
from measurements.rf.bands import Band
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.ferrites import learned_windings, prediction, winding_model, winding_proposals
from measurements.rf.ferrites.design_evidence import rejection_of_impedance_db
from measurements.rf.ferrites.winding_model import BEADS_STYLE, WindingModel
from measurements.rf.ferrites.winding_proposals import AvailableCore, WindingGoal
from measurements.rf.kinds import choke_figures
from measurements.rf.sweeps.sweep import Complexes
from measurements.selectors.designs import recipe_checks
from measurements.selectors.evidence.design_curves import round_for_json
from measurements.selectors.predictions import explanations, prediction_basis, proposals
from measurements.selectors.predictions.prediction_basis import PredictionBasis
from measurements.selectors.predictions.rows import BandChanceRow, PredictionRow, Statistic

STATISTIC_NAMES = ("p10", "median", "p90")


def predict_recipe(
    viewer: Viewer,
    recipe: dict[str, Any],
    title: str,
    *,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
) -> PredictionRow:
    """Return the prediction for a recipe in normal form, on the grid of evidence within the table of its mix.

    Raises BenchnightError `predict.recipe` where the model does not reach, `predict.mix` without a table.
    """
    known = prediction_basis.get_prediction_basis(viewer)
    wires_mm = prediction_basis.get_wire_diameters_mm()
    winding = winding_model.build_recipe_winding(recipe, prediction_basis.get_core_sizes_mm(), wires_mm)
    if winding is None:
        raise BenchnightError(
            "predict.recipe",
            "Only current chokes and baluns on rings or beads of known size are predicted, all cores alike, "
            "one line (1:1) or one core for each line.",
            field="cores",
        )
    if winding.mix not in known.tables:
        raise BenchnightError(
            "predict.mix",
            f"No permeability table of mix {winding.mix} is at hand, so nothing can be predicted of it.",
            field="cores",
        )
    asked = proposals.find_bands(bands)
    return _prediction_row(known, recipe, title, winding, asked, proposals.resolve_benchmark_db(benchmark_db))


def _prediction_row(
    known: PredictionBasis,
    recipe: dict[str, Any],
    title: str,
    winding: WindingModel,
    asked: tuple[Band, ...],
    benchmark_db: float,
) -> PredictionRow:
    table = known.tables[winding.mix]
    freq_hz = GRID_HZ[(table.freq_hz[0] <= GRID_HZ) & (table.freq_hz[-1] >= GRID_HZ)]
    built = known.built(winding)
    drawn = prediction.draw_model(known.model, winding.mix, table, freq_hz)
    z_ohm = prediction.predict_design_ohm(known.model, drawn, table, winding, built)
    covered = tuple(band for band in asked if table.covers(np.array([band.start_hz, band.stop_hz])))
    chance, bands = _band_chances(known, winding, asked, covered, benchmark_db, built)
    mean, _ = known.model.of(winding.mix)
    keys = known.nearest(winding)
    titles = dict(Design.objects.filter(key__in=keys).values_list("key", "title"))
    return PredictionRow(
        title=title,
        recipe=recipe,
        freq_hz=tuple(freq_hz),
        rejection_db=_statistic_values(rejection_of_impedance_db(z_ohm), 2),
        resistance_ohm=_statistic_values(z_ohm.real, 1),
        reactance_ohm=_statistic_values(z_ohm.imag, 1),
        impedance_ohm=_statistic_values(np.abs(z_ohm), 1),
        self_resonance_hz=_resonance(freq_hz, z_ohm),
        stray_capacitance_f=float(f"{np.exp(learned_windings.log_stray_f(mean, winding)):.3g}"),
        chance=chance,
        bands=bands,
        benchmark_db=benchmark_db,
        covered_from_hz=float(table.freq_hz[0]),
        covered_to_hz=float(table.freq_hz[-1]),
        note=_note(known, winding.mix, freq_hz),
        why=explanations.explain_limits(bands, benchmark_db) if bands else "",
        fits=_turns_fit(recipe, winding),
        built=built is not None,
        near=known.near_rows(winding, titles),
        rests_on=known.rests_on(winding.mix),
        cautions=explanations.list_cautions([winding.mix]),
    )


def _band_chances(
    known: PredictionBasis,
    winding: WindingModel,
    asked: tuple[Band, ...],
    covered: tuple[Band, ...],
    benchmark_db: float,
    built: str | None,
) -> tuple[float | None, tuple[BandChanceRow, ...]]:
    """Return the chance on all bands asked (None unless all are covered), and a row for each of them."""
    empty: dict[str, float | None] = dict.fromkeys(STATISTIC_NAMES)
    rows = {band.name: BandChanceRow(band.name, None, empty, None) for band in asked}
    if not covered:
        return None, tuple(rows.values())
    wish = WindingGoal(
        covered, benchmark_db, winding.style, 1, winding.wire_mm, winding.split, winding.lines, (1,)
    )
    together, bands = winding_proposals.judge_winding(
        known.model, known.tables[winding.mix], winding, wish, built
    )
    rows |= {band.band: proposals.build_band_row(band) for band in bands}
    return (round(together, 2) if len(covered) == len(asked) else None), tuple(rows.values())


def _statistic_values(values: NDArray[np.float64], digits: int) -> Statistic:
    return {
        name: round_for_json(row, digits)
        for name, row in zip(STATISTIC_NAMES, prediction.compute_interval(values), strict=True)
    }


def _resonance(freq_hz: NDArray[np.float64], z_ohm: Complexes) -> dict[str, float | None]:
    """Find where X passes through zero; None where a tenth or more of devices show it nowhere in the
    span.
    """
    found = choke_figures.self_resonance_hz(freq_hz, z_ohm)
    if np.isnan(found).mean() > 0.1:
        return dict.fromkeys(STATISTIC_NAMES)
    at = np.nanquantile(found, (0.1, 0.5, 0.9))
    return {name: float(f"{value:.4g}") for name, value in zip(STATISTIC_NAMES, at, strict=True)}


def _turns_fit(recipe: dict[str, Any], winding: WindingModel) -> bool | None:
    """Say whether the turns lie in one layer in the bore; None where a size is not known."""
    core = recipe["cores"][0]
    size_mm = prediction_basis.get_core_sizes_mm().get(core["part"]) if "part" in core else None
    if size_mm is None and "inner_mm" in core:
        size_mm = (core["outer_mm"], core["inner_mm"], core["height_mm"])
    if size_mm is None or winding.wire_mm is None:
        return None
    wires = recipe_checks.WIRES_PER_TURN[winding.style]
    wish = WindingGoal((), 0.0, winding.style, wires, winding.wire_mm, winding.split, winding.lines, (1,))
    most = winding_proposals.count_fitting_turns(AvailableCore("", size_mm, winding.mix), wish)
    return most >= (1 if winding.style == BEADS_STYLE else winding.turns)


def _note(known: PredictionBasis, mix: str, freq_hz: NDArray[np.float64]) -> str:
    """List the notes on the origin of the curve."""
    table, heard = known.tables[mix], known.model.heard.get(mix)
    low, high = table.freq_hz[0] / 1e6, table.freq_hz[-1] / 1e6
    said = f"The maker's table of mix {mix} reaches from {low:.3g} to {high:.3g} MHz; "
    said += "outside it nothing is predicted."
    if heard is not None and heard.to_hz is not None and heard.to_hz < freq_hz[-1] * 0.98:
        said += f" Evidence of this mix ends at {heard.to_hz / 1e6:.3g} MHz; above it the table stands alone."
    return said
