"""What would this recipe show? The curve of new devices with its interval, as far as the tables reach."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.models import Design
from measurements.queries import (
    believed,
    proposals,
    recipe_checks,
    winding_cautions,
    winding_words,
    wishes,
)
from measurements.queries.believed import Believed
from measurements.queries.curves import listed
from measurements.queries.rows_of_predictions import BandChanceRow, PredictionRow, Statistic
from measurements.rf import choke_figures, learned, predicting, proposal, wound
from measurements.rf.bands import Band
from measurements.rf.design_evidence import rejection_db
from measurements.rf.grid import GRID_HZ
from measurements.rf.proposal import CoreOnHand, Wish
from measurements.rf.sweep import Complexes
from measurements.rf.wound import BEADS, Wound

NAMES = ("p10", "median", "p90")


def of_recipe(
    viewer: Viewer,
    recipe: dict[str, Any],
    title: str,
    *,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
) -> PredictionRow:
    """The prediction for a recipe in normal form, on the grid of evidence within the table of its mix.

    Raises BenchnightError `predict.recipe` where the model does not reach, `predict.mix` without a table.
    """
    known = believed.of(viewer)
    wires_mm = believed.wires_mm()
    winding = wound.of_recipe(recipe, believed.sizes_mm(), wires_mm)
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
    asked = wishes.bands_of(bands)
    return _row(known, recipe, title, winding, asked, wishes.benchmark_of(benchmark_db))


def _row(
    known: Believed,
    recipe: dict[str, Any],
    title: str,
    winding: Wound,
    asked: tuple[Band, ...],
    benchmark_db: float,
) -> PredictionRow:
    table = known.tables[winding.mix]
    freq_hz = GRID_HZ[(table.freq_hz[0] <= GRID_HZ) & (table.freq_hz[-1] >= GRID_HZ)]
    built = known.built(winding)
    drawn = predicting.draw(known.model, winding.mix, table, freq_hz)
    z_ohm = predicting.of_design(known.model, drawn, table, winding, built)
    covered = tuple(band for band in asked if table.covers(np.array([band.start_hz, band.stop_hz])))
    chance, bands = _chances(known, winding, asked, covered, benchmark_db, built)
    mean, _ = known.model.of(winding.mix)
    keys = known.nearest(winding)
    titles = dict(Design.objects.filter(key__in=keys).values_list("key", "title"))
    return PredictionRow(
        title=title,
        recipe=recipe,
        freq_hz=tuple(freq_hz),
        rejection_db=_statistic(rejection_db(z_ohm), 2),
        resistance_ohm=_statistic(z_ohm.real, 1),
        reactance_ohm=_statistic(z_ohm.imag, 1),
        impedance_ohm=_statistic(np.abs(z_ohm), 1),
        self_resonance_hz=_resonance(freq_hz, z_ohm),
        stray_capacitance_f=float(f"{np.exp(learned.log_stray_f(mean, winding)):.3g}"),
        chance=chance,
        bands=bands,
        benchmark_db=benchmark_db,
        covered_from_hz=float(table.freq_hz[0]),
        covered_to_hz=float(table.freq_hz[-1]),
        note=_note(known, winding.mix, freq_hz),
        why=winding_words.why(bands, benchmark_db) if bands else "",
        fits=_fits(recipe, winding),
        built=built is not None,
        near=known.near_rows(winding, titles),
        rests_on=known.rests_on(winding.mix),
        cautions=winding_cautions.of_mixes([winding.mix]),
    )


def _chances(
    known: Believed,
    winding: Wound,
    asked: tuple[Band, ...],
    covered: tuple[Band, ...],
    benchmark_db: float,
    built: str | None,
) -> tuple[float | None, tuple[BandChanceRow, ...]]:
    """The chance on all bands asked (None unless all are covered), and a row for each of them."""
    empty: dict[str, float | None] = dict.fromkeys(NAMES)
    rows = {band.name: BandChanceRow(band.name, None, empty, None) for band in asked}
    if not covered:
        return None, tuple(rows.values())
    wish = Wish(covered, benchmark_db, winding.style, 1, winding.wire_mm, winding.split, winding.lines, (1,))
    together, bands = proposal.judged(known.model, known.tables[winding.mix], winding, wish, built)
    rows |= {band.band: proposals.band_row(band) for band in bands}
    return (round(together, 2) if len(covered) == len(asked) else None), tuple(rows.values())


def _statistic(values: NDArray[np.float64], digits: int) -> Statistic:
    return {name: listed(row, digits) for name, row in zip(NAMES, predicting.interval(values), strict=True)}


def _resonance(freq_hz: NDArray[np.float64], z_ohm: Complexes) -> dict[str, float | None]:
    """Where X passes through zero; None where a tenth or more of devices show it nowhere in the span."""
    found = choke_figures.self_resonance_hz(freq_hz, z_ohm)
    if np.isnan(found).mean() > 0.1:
        return dict.fromkeys(NAMES)
    at = np.nanquantile(found, (0.1, 0.5, 0.9))
    return {name: float(f"{value:.4g}") for name, value in zip(NAMES, at, strict=True)}


def _fits(recipe: dict[str, Any], winding: Wound) -> bool | None:
    """Whether the turns lie in one layer in the bore; None where a size is not known."""
    core = recipe["cores"][0]
    size_mm = believed.sizes_mm().get(core["part"]) if "part" in core else None
    if size_mm is None and "inner_mm" in core:
        size_mm = (core["outer_mm"], core["inner_mm"], core["height_mm"])
    if size_mm is None or winding.wire_mm is None:
        return None
    wires = recipe_checks.WIRES[winding.style]
    wish = Wish((), 0.0, winding.style, wires, winding.wire_mm, winding.split, winding.lines, (1,))
    most = proposal.turns_that_fit(CoreOnHand("", size_mm, winding.mix), wish)
    return most >= (1 if winding.style == BEADS else winding.turns)


def _note(known: Believed, mix: str, freq_hz: NDArray[np.float64]) -> str:
    """What a reader must know of where the curve comes from."""
    table, heard = known.tables[mix], known.model.heard.get(mix)
    low, high = table.freq_hz[0] / 1e6, table.freq_hz[-1] / 1e6
    said = f"The maker's table of mix {mix} reaches from {low:.3g} to {high:.3g} MHz; "
    said += "outside it nothing is predicted."
    if heard is not None and heard.to_hz is not None and heard.to_hz < freq_hz[-1] * 0.98:
        said += f" Evidence of this mix ends at {heard.to_hz / 1e6:.3g} MHz; above it the table stands alone."
    return said
