"""Reference data: bands, benchmarks, mixes, cores, conductors."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, replies
from api.door import Door
from api.operations import TEXT, listed, operation
from api.renderers import TABLE
from api.serializers import reference as shown
from measurements.queries import reference

TABLES = {"text/csv": TEXT, "application/x-ndjson": TEXT}


class Bands(Door):
    is_shared = True
    renderer_classes = TABLE
    words = shown.BandQuery

    @operation(
        "bands",
        "reference",
        "The band plan",
        "Amateur allocations of an ITU region on a day, lowest first.",
        shows=listed(shown.Band, name="Bands", pages=False),
        media=TABLES,
        words=shown.BandQuery,
        example=examples.listed(examples.BAND),
    )
    def get(self, request: Request) -> Response:
        rows = reference.bands(self.asked.get("region"), self.asked.get("on"))
        return replies.rows(request, shown.Band, rows)


class Benchmarks(Door):
    is_shared = True
    renderer_classes = TABLE

    @operation(
        "benchmarks",
        "reference",
        "What tests are held against",
        "The group's limits, the newest of each metric first.",
        shows=listed(shown.Benchmark, name="Benchmarks", pages=False),
        media=TABLES,
        example=examples.listed(examples.BENCHMARK),
    )
    def get(self, request: Request) -> Response:
        return replies.rows(request, shown.Benchmark, reference.benchmarks())


class Mixes(Door):
    is_shared = True
    renderer_classes = TABLE

    @operation(
        "mixes",
        "reference",
        "Ferrite materials",
        "By catalogue number, with complex permeability over frequency where it is published.",
        shows=listed(shown.Mix, name="Mixes", pages=False),
        media=TABLES,
        example=examples.listed(examples.MIX),
    )
    def get(self, request: Request) -> Response:
        return replies.rows(request, shown.Mix, reference.mixes())


class Cores(Door):
    is_shared = True
    renderer_classes = TABLE

    @operation(
        "cores",
        "reference",
        "Cores",
        "Cores that makers list; a value that no source gives is null.",
        shows=listed(shown.Core, name="Cores", pages=False),
        media=TABLES,
        example=examples.listed(examples.CORE),
    )
    def get(self, request: Request) -> Response:
        return replies.rows(request, shown.Core, reference.cores())


class Conductors(Door):
    is_shared = True
    renderer_classes = TABLE

    @operation(
        "conductors",
        "reference",
        "Conductors",
        "What a winding may be made of; a recipe names one of these or `other`.",
        shows=listed(shown.Conductor, name="Conductors", pages=False),
        media=TABLES,
        example=examples.listed(examples.CONDUCTOR),
    )
    def get(self, request: Request) -> Response:
        return replies.rows(request, shown.Conductor, reference.conductors())
