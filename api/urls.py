"""Every address under /api/v1/. All end in a slash; whatever is not here is a 404 problem."""

from __future__ import annotations

from django.urls import path, re_path, register_converter

from api.resources import (
    about,
    analysers,
    analysis,
    bundles,
    check_standards,
    designs,
    devices,
    evidence,
    folders,
    intakes,
    kit,
    moves,
    night_persons,
    nights,
    pictures,
    pool,
    predictions,
    ratio_predictions,
    reference,
    releases,
    tests,
    upkeep,
    watching,
)


class KeyConverter:
    """A random key; a wrong one is looked up and not found."""

    regex = "[0-9A-Za-z_-]{1,32}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class NumberConverter:
    """A whole number that every database can hold."""

    regex = "[0-9]{1,9}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return str(value)


class FileNameConverter(KeyConverter):
    """The name of a file of ours, its ending included."""

    regex = "[0-9A-Za-z_-]{1,24}[.][a-z]{1,8}"


register_converter(KeyConverter, "key")
register_converter(FileNameConverter, "file_name")
register_converter(NumberConverter, "number")

app_name = "api"

urlpatterns = [
    path("", about.IndexView.as_view(), name="index"),
    path("schema/", about.DescriptionView.as_view(), name="schema"),
    path("docs/", about.DocsView.as_view(), name="docs"),
    path("bands/", reference.BandsView.as_view(), name="bands"),
    path("benchmarks/", reference.BenchmarksView.as_view(), name="benchmarks"),
    path("mixes/", reference.MixesView.as_view(), name="mixes"),
    path("cores/", reference.CoresView.as_view(), name="cores"),
    path("conductors/", reference.ConductorsView.as_view(), name="conductors"),
    path("analyse/", analysis.AnalyseView.as_view(), name="analyse"),
    path("analysers/", analysers.AnalysersView.as_view(), name="analysers"),
    path("analysers/<key:id>/", analysers.AnalyserView.as_view(), name="analyser"),
    path("analysers/<key:id>/checks/", analysers.AnalyserChecksView.as_view(), name="analyser_checks"),
    path("predict/", predictions.PredictView.as_view(), name="predict"),
    path("predict/ratio/", ratio_predictions.PredictRatioView.as_view(), name="predict_ratio"),
    path("identify/", predictions.IdentifyView.as_view(), name="identify"),
    path("designs/", designs.DesignsView.as_view(), name="designs"),
    path("designs/<key:id>/", designs.DesignView.as_view(), name="design"),
    path("designs/<key:id>/evidence/", designs.DesignEvidenceView.as_view(), name="design_evidence"),
    path("designs/<key:id>/curves/", designs.DesignCurvesView.as_view(), name="design_curves"),
    path("designs/<key:id>/chart/", designs.DesignChartView.as_view(), name="design_chart"),
    path("designs/<key:id>/watch/", watching.DesignWatchView.as_view(), name="design_watch"),
    path("watched-designs/", watching.WatchedDesignsView.as_view(), name="watched_designs"),
    path("evidence/", evidence.EvidenceView.as_view(), name="evidence"),
    path("pool/", pool.PoolView.as_view(), name="pool"),
    path("pool/evidence/", pool.PooledEvidenceView.as_view(), name="pooled_evidence"),
    path("pool/groups/", pool.PoolGroupsView.as_view(), name="pool_groups"),
    path("pool/sendings/", pool.PoolSendingsView.as_view(), name="pool_sendings"),
    path("pool/releases/latest.json/", pool.PoolPointerView.as_view(), name="pool_latest"),
    path("pool/releases/<number:number>/<file_name:name>/", pool.PoolFileView.as_view(), name="pool_file"),
    path("releases/", releases.ReleasesView.as_view(), name="releases"),
    path("releases/feed/", releases.ReleaseFeedView.as_view(), name="release_feed"),
    path("releases/latest/", releases.LatestReleaseView.as_view(), name="latest_release"),
    path(
        "releases/latest/files/<file_name:name>/",
        releases.LatestReleaseFileView.as_view(),
        name="latest_release_file",
    ),
    path("releases/<number:number>/", releases.ReleaseView.as_view(), name="release"),
    path(
        "releases/<number:number>/files/<file_name:name>/",
        releases.ReleaseFileView.as_view(),
        name="release_file",
    ),
    path("devices/", devices.DevicesView.as_view(), name="devices"),
    path("devices/<key:id>/", devices.DeviceView.as_view(), name="device"),
    path("devices/<key:id>/inspections/", upkeep.InspectionsView.as_view(), name="inspections"),
    path("devices/<key:id>/service/", upkeep.DeviceServiceView.as_view(), name="device_service"),
    path("devices/<key:id>/offers/", kit.DeviceOfferView.as_view(), name="device_offers"),
    path("devices/<key:id>/loans/", kit.LoansView.as_view(), name="device_loans"),
    path("devices/<key:id>/return/", kit.ReturnView.as_view(), name="device_return"),
    path("devices/<key:id>/pictures/", pictures.PicturesView.as_view(), name="pictures"),
    path("pictures/<key:id>/", pictures.PictureView.as_view(), name="picture"),
    path("claims/", pictures.ClaimsView.as_view(), name="claims"),
    path("reviews/", pictures.ReviewsView.as_view(), name="reviews"),
    path("reviews/<key:id>/", pictures.ReviewView.as_view(), name="review"),
    path("offers/", kit.OffersView.as_view(), name="offers"),
    path("offers/<key:id>/", kit.OfferView.as_view(), name="offer"),
    path("kit/", kit.KitTableView.as_view(), name="kit"),
    path("kit/changes/", kit.KitChangesView.as_view(), name="kit_changes"),
    path("kit/changes/<key:id>/undo/", kit.KitUndoView.as_view(), name="kit_undo"),
    path("labels/", kit.LabelsView.as_view(), name="labels"),
    path("labels/blank/", kit.BlankLabelsView.as_view(), name="blank_labels"),
    path("labels/<key:id>/", kit.LabelView.as_view(), name="label"),
    path("nights/", nights.NightsView.as_view(), name="nights"),
    path("nights/<key:id>/", nights.NightView.as_view(), name="night"),
    path("nights/<key:id>/jig/", nights.NightJigView.as_view(), name="night_jig"),
    path(
        "nights/<key:id>/contributors/confirm/",
        night_persons.NightConfirmView.as_view(),
        name="night_confirm",
    ),
    path("nights/<key:id>/contributors/join/", night_persons.NightJoinView.as_view(), name="night_join"),
    path("nights/<key:id>/intake/", intakes.NightIntakeView.as_view(), name="night_intake"),
    path("nights/<key:id>/bundle/", bundles.NightBundleView.as_view(), name="night_bundle"),
    path("bundles/", bundles.BundlesView.as_view(), name="bundles"),
    path("bundles/<key:id>/", bundles.BundleView.as_view(), name="bundle"),
    path("intakes/<key:id>/", intakes.IntakeView.as_view(), name="intake"),
    path("intakes/<key:id>/answers/", intakes.IntakeAnswersView.as_view(), name="intake_answers"),
    path("tests/<key:id>/move/", moves.TestMoveView.as_view(), name="test_move"),
    path("nights/<key:id>/moves/", moves.NightMovesView.as_view(), name="night_moves"),
    path("moves/<key:id>/undo/", moves.MoveUndoView.as_view(), name="move_undo"),
    path("check-standards/", check_standards.CheckStandardsView.as_view(), name="check_standards"),
    path("check-standards/<key:id>/", check_standards.CheckStandardView.as_view(), name="check_standard"),
    path("check-holds/", check_standards.CheckHoldsView.as_view(), name="check_holds"),
    path("check-holds/<key:id>/", check_standards.CheckHoldView.as_view(), name="check_hold"),
    path("band-results/", folders.BandResultsView.as_view(), name="band_results"),
    path("folders/", folders.FoldersView.as_view(), name="folders"),
    path("tests/", tests.TestsView.as_view(), name="tests"),
    path("tests/<key:id>/", tests.TestView.as_view(), name="test"),
    path("tests/<key:id>/sweeps/<key:role>/", tests.TestSweepView.as_view(), name="test_sweep"),
    path("tests/<key:id>/chart/", tests.TestChartView.as_view(), name="test_chart"),
    path("tests/<key:id>/comparison/", tests.TestComparisonView.as_view(), name="test_comparison"),
    re_path(r"", about.NotFoundView.as_view()),
]
