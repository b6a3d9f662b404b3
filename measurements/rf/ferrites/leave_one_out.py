"""Would it have been right? Every design is left out once, predicted from the others, and compared.

Beside the model stand two rivals: the published tables alone with a usual capacitance, and the nearest other
design taken as it is. If the model is no better than both, the answer says so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from measurements.rf.bands import Band
from measurements.rf.ferrites import learned_windings, learning, prediction
from measurements.rf.ferrites.design_evidence import DesignEvidence, rejection_of_impedance_db
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import LearnedWindings
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.ferrites.winding_terms import NearestWindings
from measurements.rf.sweeps.sweep import Floats

MOST_LEFT_OUT = 60  # of a large group: every k-th design, so that all mixes are among them
COVERAGE_GOAL = (0.7, 0.9)  # of the share of devices inside the 80 % interval


@dataclass(frozen=True)
class WorstInBand:
    """Published worst-in-band rejections of a design, dB: (n, B), NaN where a device has none.

    single: one row per device; else one row, the median of them all.
    """

    worst_db: Floats
    single: bool


@dataclass(frozen=True)
class PredictionErrors:
    """Median absolute error of a design's median worst-in-band rejection, dB; None where nothing compares."""

    model_db: float | None
    physics_db: float | None
    nearest_db: float | None
    figures: int


@dataclass(frozen=True)
class ModelValidation:
    """coverage: share of devices within the 80 % interval of their design left out; None without devices.

    left_out, designs: how many were left out one by one, of how many. by_mix: the same errors by mix.
    better: whether the model's error is below both rivals'; None where there is nothing to compare.
    """

    designs: int
    left_out: int
    devices: int
    coverage: float | None
    errors: PredictionErrors
    by_mix: Mapping[str, PredictionErrors]
    better: bool | None


@dataclass(frozen=True)
class _LeftOutDesign:
    """One design left out: errors (3, B) of model, physics and nearest; hits of devices in the interval."""

    mix: str
    errors_db: Floats
    inside: int
    counted: int
    devices: int


def validate_model(
    tables: Mapping[str, Permeability],
    evidence: Sequence[DesignEvidence],
    worst: Mapping[str, WorstInBand],
    bands: Sequence[Band],
) -> ModelValidation:
    """Leave out each design of `worst` (at most 60 of them) and compare on `bands` (B)."""
    used = [each for each in evidence if each.wound.mix in tables]
    full = learning.learn_model(tables, used)
    asked = [each for each in used if each.key in worst]
    chosen = asked[:: max(math.ceil(len(asked) / MOST_LEFT_OUT), 1)]
    left = [_left_out(tables, used, each, worst, bands, full) for each in chosen]
    counted = sum(each.counted for each in left)
    errors = _errors(left)
    return ModelValidation(
        designs=len(used),
        left_out=len(left),
        devices=sum(each.devices for each in left),
        coverage=sum(each.inside for each in left) / counted if counted else None,
        errors=errors,
        by_mix={mix: _errors([e for e in left if e.mix == mix]) for mix in sorted({e.mix for e in left})},
        better=_better(errors),
    )


def _left_out(
    tables: Mapping[str, Permeability],
    used: Sequence[DesignEvidence],
    out: DesignEvidence,
    worst: Mapping[str, WorstInBand],
    bands: Sequence[Band],
    full: LearnedWindings,
) -> _LeftOutDesign:
    others = [each for each in used if each.key != out.key]
    table = tables[out.wound.mix]
    believed = (
        learning.learn_model(tables, others, start=full),
        learned_windings.build_prior_windings(tables),
    )
    predicted = [_worst_db(each, table, out.wound, bands) for each in believed]
    seen = worst[out.key]
    target = _median(seen.worst_db)
    rivals = [each for each in others if each.key in worst]
    near_by = NearestWindings({each.key: each.wound for each in rivals}).nearest(out.wound)
    near = _median(worst[near_by[0][0]].worst_db) if near_by else np.full(len(bands), np.nan)
    guesses = np.array([np.median(predicted[0], axis=0), np.median(predicted[1], axis=0), near])
    low, _, high = prediction.compute_interval(predicted[0])
    known = np.isfinite(seen.worst_db) & np.isfinite(low) if seen.single else np.zeros((0, 0), dtype=bool)
    inside = known & (seen.worst_db >= low) & (seen.worst_db <= high) if seen.single else known
    devices = int(known.any(axis=1).sum()) if seen.single else 0
    return _LeftOutDesign(
        out.wound.mix, np.abs(guesses - target), int(inside.sum()), int(known.sum()), devices
    )


def _worst_db(
    believed: LearnedWindings, table: Permeability, wound: WindingModel, bands: Sequence[Band]
) -> Floats:
    """Draw (S, B); NaN on a band that the table does not cover."""
    edges = np.array([[band.start_hz, band.stop_hz] for band in bands])
    covered = np.array([table.covers(pair) for pair in edges])
    drawn = prediction.draw_model(believed, wound.mix, table, edges[covered].ravel())
    edges_db = rejection_of_impedance_db(prediction.predict_new_design_ohm(drawn, wound))
    worst: Floats = np.full((len(edges_db), len(bands)), np.nan)
    worst[:, covered] = edges_db.reshape(len(edges_db), -1, 2).min(axis=2)
    return worst


def _median(worst_db: Floats) -> Floats:
    """Return median over devices (B,), NaN where there are none."""
    known = np.isfinite(worst_db).any(axis=0)
    found: Floats = np.full(worst_db.shape[1], np.nan)
    found[known] = np.nanmedian(worst_db[:, known], axis=0)
    return found


def _errors(left: Sequence[_LeftOutDesign]) -> PredictionErrors:
    """Return over the figures that all three answer, so that none of them is judged on easier ones."""
    if not left:
        return PredictionErrors(None, None, None, 0)
    all_db = np.concatenate([each.errors_db for each in left], axis=1)
    model_db, physics_db, nearest_db = all_db
    alone = np.isfinite(model_db) & np.isfinite(physics_db)
    every = alone & np.isfinite(nearest_db)
    if not alone.any():
        return PredictionErrors(None, None, None, 0)
    if not every.any():
        return PredictionErrors(_middle(model_db[alone]), _middle(physics_db[alone]), None, int(alone.sum()))
    model, physics, near = (_middle(each[every]) for each in all_db)
    return PredictionErrors(model, physics, near, int(every.sum()))


def _middle(values: Floats) -> float:
    return float(np.median(values))


def _better(errors: PredictionErrors) -> bool | None:
    rivals = [each for each in (errors.physics_db, errors.nearest_db) if each is not None]
    if errors.model_db is None or not rivals:
        return None
    return errors.model_db < min(rivals)
