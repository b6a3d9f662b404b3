"""What a viewer's circle may predict with: the model of the current release, or the tables alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from measurements.disclosure.viewers import Circle, Viewer, get_circle
from measurements.models import Conductor, Core, LearnedModel, Mix, Release
from measurements.models.read_once import read_catalogue, read_once
from measurements.rf.analysis import ENGINE_VERSION
from measurements.rf.ferrites import learned_windings
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import LearnedWindings, MixEvidence
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.ferrites.winding_proposals import is_same_winding
from measurements.rf.ferrites.winding_terms import NearestWindings
from measurements.selectors.designs import recipe_checks
from measurements.selectors.predictions.rows import NearDesignRow, PredictionSources

NEAR_DISTANCE = 1.2  # of `rf.ferrites.winding_terms`: about two turns of twelve on the same core
MOST_NEAR = 3
CoreSizes = dict[str, tuple[float, float, float]]


@dataclass(frozen=True)
class PredictionBasis:
    """release: which one was learned from, None for none. validation: its leave-one-design-out figures."""

    model: LearnedWindings
    tables: dict[str, Permeability]
    release: int | None
    validation: dict[str, Any] | None
    neighbours: NearestWindings

    def rests_on(self, mix: str) -> PredictionSources:
        table, heard = self.tables[mix], self.model.heard.get(mix, MixEvidence())
        return PredictionSources(
            mix,
            heard.designs > 0,
            heard.designs,
            heard.devices,
            self.release,
            float(table.freq_hz[0]),
            float(table.freq_hz[-1]),
        )

    def nearest(self, wound: WindingModel) -> list[str]:
        """Return keys of up to three designs with evidence that are most like it, the likest first."""
        return [key for key, far in self.neighbours.nearest(wound, MOST_NEAR) if far <= NEAR_DISTANCE]

    def built(self, wound: WindingModel) -> str | None:
        """Return the design with evidence that is this winding."""
        return next(
            (key for key in self.nearest(wound) if is_same_winding(wound, self.model.designs[key].wound)),
            None,
        )

    def near_rows(self, wound: WindingModel, titles: dict[str, str]) -> tuple[NearDesignRow, ...]:
        """Return `nearest` as rows; titles: of designs by key, those that are gone are left out."""
        return tuple(
            NearDesignRow(key, titles[key], is_same_winding(wound, self.model.designs[key].wound))
            for key in self.nearest(wound)
            if key in titles
        )


def get_prediction_basis(viewer: Viewer) -> PredictionBasis:
    """Return the newest learned model for this viewer's circle.

    It was made at a release that enough persons joined, and is the newest of its kind; where nothing was
    learned yet it is the tables alone, and says so.
    """
    tables = _read_tables()
    newest = _find_learned_release(get_circle(viewer))
    kept = None if newest is None else _find_model(newest[0], bytes(newest[1]), get_circle(viewer))
    if kept is None or set(kept[0].mixes) != set(tables):
        return PredictionBasis(
            learned_windings.build_prior_windings(tables), tables, None, None, NearestWindings({})
        )
    return PredictionBasis(kept[0], tables, newest[0], kept[2] or None, kept[1])


@read_catalogue
def get_core_sizes_mm() -> CoreSizes:
    """Return outer and inner diameter and height of listed rings and beads by part number."""
    columns = ("part", "outer_mm", "inner_mm", "height_mm")
    rows = Core.objects.filter(shape__in=("toroid", "bead")).values_list(*columns)
    return {row[0]: (row[1], row[2], row[3]) for row in rows if None not in row}


@read_catalogue
def get_wire_diameters_mm() -> dict[str, float | None]:
    """Return diameters over the insulation by conductor."""
    return dict(Conductor.objects.values_list("name", "outer_mm"))


@read_catalogue
def _read_tables() -> dict[str, Permeability]:
    rows = Mix.objects.order_by("name").values_list("name", "rows")
    found = {name: recipe_checks.build_permeability(points) for name, points in rows}
    return {name: table for name, table in found.items() if table is not None}


@read_once
def _find_learned_release(circle: Circle) -> tuple[int, bytes] | None:
    """Find the release, with its salt, that the newest model of this engine was learned at."""
    learned = LearnedModel.objects.filter(circle=circle, engine_version=ENGINE_VERSION).values("release")
    newest = Release.objects.filter(number__in=learned).order_by("-number")
    return newest.values_list("number", "salt").first()


def _find_model(
    number: int, salt: bytes, of_circle: Circle
) -> tuple[LearnedWindings, NearestWindings, dict[str, Any]] | None:
    """Return the model, kept in this process once it is there, and its validation, which may come later."""
    there = LearnedModel.objects.filter(release=number, circle=of_circle, engine_version=ENGINE_VERSION)
    row = there.values_list("pk", "validation").first()
    model = None if row is None else _read_model(number, salt, row[0])
    return None if row is None or model is None else (*model, row[1])


@lru_cache(maxsize=4)
def _read_model(number: int, salt: bytes, pk: int) -> tuple[LearnedWindings, NearestWindings] | None:
    """Return number, salt: a restored database may hold another release of that number."""
    model = learned_windings.parse_learned_windings(
        LearnedModel.objects.values_list("figures", flat=True).get(pk=pk)
    )
    if model is None:
        return None
    return model, NearestWindings({key: own.wound for key, own in model.designs.items()})
