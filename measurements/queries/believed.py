"""What a viewer's circle may predict with: the model of the current release, or the tables alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from measurements.disclosure.circles import Circle, Viewer, circle
from measurements.models import Conductor, Core, LearnedModel, Mix, Release
from measurements.queries import recipe_checks
from measurements.queries.rows_of_predictions import NearRow, RestsOn
from measurements.rf import learned
from measurements.rf.engine import ENGINE_VERSION
from measurements.rf.ferrite import Permeability
from measurements.rf.learned import Heard, Learned
from measurements.rf.neighbours import Neighbours
from measurements.rf.proposal import same
from measurements.rf.wound import Wound

NEAR = 1.2  # of `rf.neighbours`: about two turns of twelve on the same core
MOST_NEAR = 3
Sizes = dict[str, tuple[float, float, float]]


@dataclass(frozen=True)
class Believed:
    """release: which one was learned from, None for none. validation: its leave-one-design-out figures."""

    model: Learned
    tables: dict[str, Permeability]
    release: int | None
    validation: dict[str, Any] | None
    neighbours: Neighbours

    def rests_on(self, mix: str) -> RestsOn:
        table, heard = self.tables[mix], self.model.heard.get(mix, Heard())
        return RestsOn(
            mix,
            heard.designs > 0,
            heard.designs,
            heard.devices,
            self.release,
            float(table.freq_hz[0]),
            float(table.freq_hz[-1]),
        )

    def nearest(self, wound: Wound) -> list[str]:
        """Keys of up to three designs with evidence that are most like it, the likest first."""
        return [key for key, far in self.neighbours.nearest(wound, MOST_NEAR) if far <= NEAR]

    def built(self, wound: Wound) -> str | None:
        """The design with evidence that is this winding."""
        return next((key for key in self.nearest(wound) if same(wound, self.model.designs[key].wound)), None)

    def near_rows(self, wound: Wound, titles: dict[str, str]) -> tuple[NearRow, ...]:
        """`nearest` as rows; titles: of designs by key, those that are gone are left out."""
        return tuple(
            NearRow(key, titles[key], same(wound, self.model.designs[key].wound))
            for key in self.nearest(wound)
            if key in titles
        )


def of(viewer: Viewer) -> Believed:
    """The model of the current release for this viewer's circle.

    Where nothing was learned from it yet it is the tables alone, and says so: an older release's model would
    know what people have withdrawn since.
    """
    tables = _tables()
    newest = Release.objects.order_by("-number").values_list("number", "salt").first()
    kept = None if newest is None else _kept(newest[0], bytes(newest[1]), circle(viewer))
    if kept is None or set(kept[0].mixes) != set(tables):
        return Believed(learned.untaught(tables), tables, None, None, Neighbours({}))
    return Believed(kept[0], tables, newest[0], kept[2] or None, kept[1])


def sizes_mm() -> Sizes:
    """Outer and inner diameter and height of listed rings and beads by part number."""
    columns = ("part", "outer_mm", "inner_mm", "height_mm")
    rows = Core.objects.filter(shape__in=("toroid", "bead")).values_list(*columns)
    return {row[0]: (row[1], row[2], row[3]) for row in rows if None not in row}


def wires_mm() -> dict[str, float | None]:
    """Diameters over the insulation by conductor."""
    return dict(Conductor.objects.values_list("name", "outer_mm"))


def _tables() -> dict[str, Permeability]:
    rows = Mix.objects.order_by("name").values_list("name", "rows")
    found = {name: recipe_checks.permeability(points) for name, points in rows}
    return {name: table for name, table in found.items() if table is not None}


def _kept(number: int, salt: bytes, of_circle: Circle) -> tuple[Learned, Neighbours, dict[str, Any]] | None:
    """The model, kept in this process once it is there, and its validation, which may come later."""
    there = LearnedModel.objects.filter(release=number, circle=of_circle, engine_version=ENGINE_VERSION)
    row = there.values_list("pk", "validation").first()
    model = None if row is None else _read(number, salt, row[0])
    return None if row is None or model is None else (*model, row[1])


@lru_cache(maxsize=4)
def _read(number: int, salt: bytes, pk: int) -> tuple[Learned, Neighbours] | None:
    """number, salt: a restored database may hold another release of that number."""
    model = learned.from_json(LearnedModel.objects.values_list("figures", flat=True).get(pk=pk))
    if model is None:
        return None
    return model, Neighbours({key: own.wound for key, own in model.designs.items()})
