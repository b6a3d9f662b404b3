"""Every address under /api/v1/. All end in a slash; whatever is not here is a 404 problem."""

from __future__ import annotations

from django.urls import path, re_path, register_converter

from api.views import (
    about,
    analyse,
    design_curves,
    designs,
    devices,
    evidence,
    intakes,
    nights,
    predict,
    reference,
    releases,
    test_parts,
    tests,
    upkeep,
)


class Key:
    """A random key; anything else of the sort is asked for and not found."""

    regex = "[0-9A-Za-z_-]{1,32}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class Number:
    """A whole number that every database can hold."""

    regex = "[0-9]{1,9}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return str(value)


class FileName(Key):
    """The name of a file of ours, its ending included."""

    regex = "[0-9A-Za-z_-]{1,24}[.][a-z]{1,8}"


register_converter(Key, "key")
register_converter(FileName, "file_name")
register_converter(Number, "number")

app_name = "api"

urlpatterns = [
    path("", about.Index.as_view(), name="index"),
    path("schema/", about.Description.as_view(), name="schema"),
    path("docs/", about.Docs.as_view(), name="docs"),
    path("bands/", reference.Bands.as_view(), name="bands"),
    path("benchmarks/", reference.Benchmarks.as_view(), name="benchmarks"),
    path("mixes/", reference.Mixes.as_view(), name="mixes"),
    path("cores/", reference.Cores.as_view(), name="cores"),
    path("conductors/", reference.Conductors.as_view(), name="conductors"),
    path("analyse/", analyse.Analyse.as_view(), name="analyse"),
    path("predict/", predict.Predict.as_view(), name="predict"),
    path("identify/", predict.Identify.as_view(), name="identify"),
    path("designs/", designs.Designs.as_view(), name="designs"),
    path("designs/<key:id>/", designs.Design.as_view(), name="design"),
    path("designs/<key:id>/evidence/", designs.DesignEvidence.as_view(), name="design_evidence"),
    path("designs/<key:id>/curves/", design_curves.DesignCurves.as_view(), name="design_curves"),
    path("designs/<key:id>/chart/", design_curves.DesignChart.as_view(), name="design_chart"),
    path("evidence/", evidence.Evidence.as_view(), name="evidence"),
    path("releases/", releases.Releases.as_view(), name="releases"),
    path("releases/<number:number>/", releases.Release.as_view(), name="release"),
    path(
        "releases/<number:number>/files/<file_name:name>/",
        releases.ReleaseFile.as_view(),
        name="release_file",
    ),
    path("devices/", devices.Devices.as_view(), name="devices"),
    path("devices/<key:id>/", devices.Device.as_view(), name="device"),
    path("devices/<key:id>/inspections/", upkeep.Inspections.as_view(), name="inspections"),
    path("devices/<key:id>/service/", upkeep.DeviceService.as_view(), name="device_service"),
    path("nights/", nights.Nights.as_view(), name="nights"),
    path("nights/<key:id>/", nights.Night.as_view(), name="night"),
    path("nights/<key:id>/jig/", nights.NightJig.as_view(), name="night_jig"),
    path("nights/<key:id>/intake/", intakes.NightIntake.as_view(), name="night_intake"),
    path("intakes/<key:id>/", intakes.Intake.as_view(), name="intake"),
    path("tests/", tests.Tests.as_view(), name="tests"),
    path("tests/<key:id>/", tests.Test.as_view(), name="test"),
    path("tests/<key:id>/sweeps/<key:role>/", test_parts.TestSweep.as_view(), name="test_sweep"),
    path("tests/<key:id>/chart/", test_parts.TestChart.as_view(), name="test_chart"),
    path("tests/<key:id>/comparison/", test_parts.TestComparison.as_view(), name="test_comparison"),
    re_path(r"", about.Nowhere.as_view()),
]
