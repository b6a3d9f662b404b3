"""Learns from a release, for each circle from its own share, and keeps what was learned with the release.

A model is an aggregate of published votes: it is made at a release, and again only at one that three persons
joined (`pools`). Until then it stays as it was made; a newer engine learns again from the same votes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from measurements.disclosure import evidence_view, rounding
from measurements.disclosure.viewers import Circle
from measurements.errors import BenchnightError
from measurements.models import (
    Cell,
    Conductor,
    Core,
    LearnedModel,
    Mix,
    Release,
    group_facts,
    group_settings,
)
from measurements.rf.analysis import ENGINE_VERSION
from measurements.rf.bands import Band
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.ferrites import learned_windings, learning, leave_one_out, winding_model
from measurements.rf.ferrites.design_evidence import FEWEST_POINTS, DesignEvidence
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.leave_one_out import ModelValidation, WorstInBand
from measurements.rf.sweeps.sweep import Complexes, Floats
from measurements.services.reference.band_plan import get_band_plan
from measurements.services.releases import pools
from measurements.services.tests.results import CURVE_DTYPE

# What each circle's model learns from: the cells of the current release, as that circle itself may see them.
#
# Members: the medians of resistance and reactance, and the curves of published votes, for how they spread.
# The public: the median of rejection as rounded for it and the lower end of the count's band, exactly what
# its design pages show; no percentile, no curve, no count. A model of the public is therefore a function of
# public figures, and nothing can be read from it that was not there to be read.

POINT_STEP = slice(
    None, None, 3
)  # of the grid's 97 frequencies: curves are smooth from one third to the next

MOST_SPREAD = 150  # designs whose curves are read: enough to see how builds spread

_WORST = np.dtype("<f4")


@dataclass(frozen=True)
class TrainingEvidence:
    """The evidence of one circle, and per design its published worst-in-band figures."""

    tables: dict[str, Permeability]
    evidence: list[DesignEvidence]
    worst: dict[str, WorstInBand]


def get_training_evidence(
    circle: Circle, bands: tuple[Band, ...], release: int | None = None
) -> TrainingEvidence:
    """Return all that this circle's model may learn from.

    release: whose cells; None for the one that the pool of votes was last made at.
    """
    at = (pools.find_newest_release(pools.LEARNED[circle]) or 0) if release is None else release
    least = evidence_view.get_min_contributors(circle, group_settings.get_thresholds())
    cells = list(_list_cells(least, at))
    curves = _get_curves(cells) if circle == "members" else {}
    evidence, worst = [], {}
    for cell, winding in cells:
        seen = (
            _build_member_evidence(cell, winding, curves)
            if circle == "members"
            else _build_public_evidence(cell, winding, least)
        )
        if seen is not None:
            evidence.append(seen)
            worst[seen.key] = _get_worst_in_band(cell, seen, bands)
    return TrainingEvidence(get_permeability_tables(), evidence, worst)


def get_permeability_tables() -> dict[str, Permeability]:
    """Return the published permeability tables by mix."""
    found = {}
    for name, rows in Mix.objects.order_by("name").values_list("name", "rows"):
        if len(rows) >= 2:
            freq_hz, real, imag = np.array(rows, dtype=np.float64).T
            found[name] = Permeability(freq_hz, real, imag)
    return found


def _list_cells(least: int, release: int) -> Iterator[tuple[Cell, winding_model.WindingModel]]:
    """Yield cells with curves that enough people stand behind, of windings that the model reaches."""
    columns = ("part", "outer_mm", "inner_mm", "height_mm")
    rings = Core.objects.filter(shape__in=("toroid", "bead")).values_list(*columns)
    sizes_mm = {row[0]: tuple(row[1:]) for row in rings if None not in row}
    wires_mm = dict(Conductor.objects.values_list("name", "outer_mm"))
    held = Q(last_release=None) | Q(last_release__gte=release)
    ours = {"kind": "common_mode", "band": "", "contributors__gte": least}
    found = Cell.objects.filter(held, first_release__lte=release, **ours)
    for cell in found.select_related("design").order_by("design__key"):
        winding = (
            winding_model.build_recipe_winding(cell.design.recipe, sizes_mm, wires_mm)
            if cell.curves
            else None
        )
        if winding is not None:
            yield cell, winding


def _get_curves(cells: list[tuple[Cell, winding_model.WindingModel]]) -> dict[Any, list[bytes]]:
    """Read the curves that at most 150 cells keep for how builds spread, by cell. They never leave."""
    step = max(len(cells) // MOST_SPREAD, 1)
    size = GRID_HZ.size * CURVE_DTYPE.itemsize
    found: dict[Any, list[bytes]] = {}
    for cell, _ in cells[::step][:MOST_SPREAD]:
        kept = bytes(cell.spread_curves)
        found[cell.pk] = [kept[start : start + size] for start in range(0, len(kept), size)]
    return found


def _build_member_evidence(
    cell: Cell, winding: winding_model.WindingModel, curves: Mapping[Any, list[bytes]]
) -> DesignEvidence | None:
    z_ohm = _get_array(cell, "resistance_ohm") + 1j * _get_array(cell, "reactance_ohm")
    known = np.isfinite(z_ohm) & (np.abs(np.nan_to_num(z_ohm)) > 0)
    if np.count_nonzero(known) < FEWEST_POINTS:
        return None
    single: Complexes = np.zeros((0, int(known.sum())), dtype=np.complex128)
    if curves.get(cell.pk):
        all_ohm = np.array([np.frombuffer(each, CURVE_DTYPE)[POINT_STEP] for each in curves[cell.pk]])
        single = all_ohm[:, known].astype(np.complex128)
    return DesignEvidence(
        cell.design.key,
        winding,
        cell.devices,
        GRID_HZ[POINT_STEP][known],
        z_ohm=z_ohm[known],
        curves_ohm=single,
    )


def _build_public_evidence(
    cell: Cell, winding: winding_model.WindingModel, least: int
) -> DesignEvidence | None:
    enough = np.array(cell.curves["contributors"])[POINT_STEP] >= least
    detailed = evidence_view.has_detail(cell.contributors, group_settings.get_thresholds())
    shown_db = rounding.round_figures(_get_array(cell, "rejection_db"), "rejection_db", detailed)
    rejection_db = np.where(enough, shown_db, np.nan)
    known = np.isfinite(rejection_db)
    if np.count_nonzero(known) < FEWEST_POINTS:
        return None
    devices = int(rounding.coarsen_counts(cell.devices))
    return DesignEvidence(
        cell.design.key, winding, devices, GRID_HZ[POINT_STEP][known], rejection_db=rejection_db[known]
    )


def _get_array(cell: Cell, name: str) -> Floats:
    return np.array(cell.curves[name]["median"], dtype=np.float64)[POINT_STEP]


def _get_worst_in_band(cell: Cell, seen: DesignEvidence, bands: tuple[Band, ...]) -> WorstInBand:
    """Return members: every device's figure. The public: what its rounded median curve shows at the edges of
    bands.
    """
    found: Floats
    if seen.rejection_db is None:
        matrix = np.frombuffer(bytes(cell.worst_db), _WORST).reshape(cell.devices, -1).astype(np.float64)
        found = np.full((cell.devices, len(bands)), np.nan)
        for column, band in enumerate(bands):
            if band.name in cell.bands:
                found[:, column] = matrix[:, cell.bands.index(band.name)]
        return WorstInBand(found, single=True)
    edges_hz = np.array([[band.start_hz, band.stop_hz] for band in bands])
    at_edges = np.interp(edges_hz, seen.freq_hz, seen.rejection_db, left=np.nan, right=np.nan)
    return WorstInBand(at_edges.min(axis=1)[None, :], single=False)


CIRCLES: tuple[Circle, ...] = ("members", "public")

MOST_VALIDATED_DESIGNS = 60  # designs up to which learning also validates: a minute of computing at most


@dataclass(frozen=True)
class LearningSummary:
    """What one circle's model was made of."""

    circle: Circle
    release: int
    designs: int
    devices: int
    validation: ModelValidation | None


def learn_models(*, on: date | None = None) -> tuple[LearningSummary, ...]:
    """Learn for both circles and store it; in a small group it also validates.

    The votes are those of the release that the pool was last made at. Run again, it learns the same again.
    Raises BenchnightError `release.none` before the first release.
    """
    return tuple(_learn_model(_get_learned_release(circle), circle, on) for circle in CIRCLES)


def learn_missing_models() -> tuple[LearningSummary, ...]:
    """Learn where there is no model of this engine yet; nothing where there is no release."""
    if not Release.objects.exists():
        return ()
    wanted = {circle: _get_learned_release(circle) for circle in CIRCLES}
    missing = [
        circle
        for circle, release in wanted.items()
        if not LearnedModel.objects.filter(
            release=release, circle=circle, engine_version=ENGINE_VERSION
        ).exists()
    ]
    return tuple(_learn_model(wanted[circle], circle, None) for circle in missing)


def validate_models(*, on: date | None = None) -> dict[Circle, ModelValidation]:
    """Leave out one design after another, for each circle, and keep the figures beside its model."""
    found: dict[Circle, ModelValidation] = {}
    for circle in CIRCLES:
        release = _get_learned_release(circle)
        model = LearnedModel.objects.filter(
            release=release, circle=circle, engine_version=ENGINE_VERSION
        ).first()
        if model is None:
            raise BenchnightError(
                "learning.none", "Nothing was learned from the release yet: run `manage.py learn`."
            )
        bands = get_band_plan(group_facts.get_region(), on or timezone.localdate())
        heard = get_training_evidence(circle, bands)
        found[circle] = leave_one_out.validate_model(heard.tables, heard.evidence, heard.worst, bands)
        model.validation = _serialise_validation(found[circle])
        model.save(update_fields=["validation"])
    return found


def _learn_model(release: Release, circle: Circle, on: date | None) -> LearningSummary:
    bands = get_band_plan(group_facts.get_region(), on or timezone.localdate())
    heard = get_training_evidence(circle, bands)
    model = learning.learn_model(heard.tables, heard.evidence)
    validation = None
    if len(heard.evidence) <= MOST_VALIDATED_DESIGNS:
        validation = leave_one_out.validate_model(heard.tables, heard.evidence, heard.worst, bands)
    own = {"release": release, "circle": circle, "engine_version": ENGINE_VERSION}
    with transaction.atomic():
        # a new row, so that no process takes it for the old one; older ones are read by nobody
        LearnedModel.objects.filter(circle=circle).delete()
        LearnedModel.objects.create(
            **own,
            figures=learned_windings.format_learned_windings(model),
            validation={} if validation is None else _serialise_validation(validation),
        )
    devices = sum(each.devices for each in heard.evidence)
    return LearningSummary(circle, release.number, len(heard.evidence), devices, validation)


def _get_learned_release(circle: Circle) -> Release:
    """Get the release that the circle's pool was last made at; the newest one where it never was."""
    if (number := pools.find_newest_release(pools.LEARNED[circle])) is not None:
        return Release.objects.get(number=number)
    release = Release.objects.order_by("-number").first()
    if release is None:
        raise BenchnightError("release.none", "There is no release yet: run `manage.py release` first.")
    return release


def _serialise_validation(validation: ModelValidation) -> dict[str, Any]:
    """Return JSON with four digits after the point."""
    return dict(_round_values(asdict(validation)))


def _round_values(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _round_values(each) for key, each in value.items()}
    return round(value, 4) if isinstance(value, float) else value
