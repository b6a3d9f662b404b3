"""Reference data: bands, benchmarks, mixes, cores, conductors."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies
from api.http.renderers import TABLE_RENDERERS
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers import reference as reference_serializers
from measurements.selectors.reference import reference as reference_selectors

TABLE_MEDIA = {"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA}


class BandsView(ResourceView):
    is_shared = True
    renderer_classes = TABLE_RENDERERS
    words = reference_serializers.BandQuery

    @describe_operation(
        "bands",
        "reference",
        "The band plan",
        "Amateur allocations of an ITU region on a day, lowest first.",
        shows=make_list_serializer(reference_serializers.Band, name="Bands", pages=False),
        media=TABLE_MEDIA,
        words=reference_serializers.BandQuery,
        example=examples.make_list(examples.BAND),
    )
    def get(self, request: Request) -> Response:
        rows = reference_selectors.list_bands(self.asked.get("region"), self.asked.get("on"))
        return replies.render_rows(request, reference_serializers.Band, rows)


class BenchmarksView(ResourceView):
    is_shared = True
    renderer_classes = TABLE_RENDERERS

    @describe_operation(
        "benchmarks",
        "reference",
        "What tests are held against",
        "The group's limits, the newest of each metric first.",
        shows=make_list_serializer(reference_serializers.Benchmark, name="Benchmarks", pages=False),
        media=TABLE_MEDIA,
        example=examples.make_list(examples.BENCHMARK),
    )
    def get(self, request: Request) -> Response:
        return replies.render_rows(
            request, reference_serializers.Benchmark, reference_selectors.list_benchmarks()
        )


class MixesView(ResourceView):
    is_shared = True
    renderer_classes = TABLE_RENDERERS

    @describe_operation(
        "mixes",
        "reference",
        "Ferrite materials",
        "By catalogue number, with complex permeability over frequency where it is published.",
        shows=make_list_serializer(reference_serializers.Mix, name="Mixes", pages=False),
        media=TABLE_MEDIA,
        example=examples.make_list(examples.MIX),
    )
    def get(self, request: Request) -> Response:
        return replies.render_rows(request, reference_serializers.Mix, reference_selectors.list_mixes())


class CoresView(ResourceView):
    is_shared = True
    renderer_classes = TABLE_RENDERERS

    @describe_operation(
        "cores",
        "reference",
        "Cores",
        "Cores that makers list; a value that no source gives is null.",
        shows=make_list_serializer(reference_serializers.Core, name="Cores", pages=False),
        media=TABLE_MEDIA,
        example=examples.make_list(examples.CORE),
    )
    def get(self, request: Request) -> Response:
        return replies.render_rows(request, reference_serializers.Core, reference_selectors.list_cores())


class ConductorsView(ResourceView):
    is_shared = True
    renderer_classes = TABLE_RENDERERS

    @describe_operation(
        "conductors",
        "reference",
        "Conductors",
        "What a winding may be made of; a recipe names one of these or `other`.",
        shows=make_list_serializer(reference_serializers.Conductor, name="Conductors", pages=False),
        media=TABLE_MEDIA,
        example=examples.make_list(examples.CONDUCTOR),
    )
    def get(self, request: Request) -> Response:
        return replies.render_rows(
            request, reference_serializers.Conductor, reference_selectors.list_conductors()
        )
