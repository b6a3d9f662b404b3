"""A member's tests."""

from __future__ import annotations

from datetime import date

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, replies, throttling
from api.http.parsers import Multipart
from api.http.renderers import CHART_RENDERERS, TABLE_RENDERERS, Raw, Touchstone
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.designs import ChartQuery
from api.serializers.tests import RAW_FORM, Comparison, SweepQuery, TestChange, TestForm, TestQuery
from api.serializers.tests import Test as TestShown
from measurements.charts import test_chart
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.rf.sweeps import file_endings, touchstone
from measurements.selectors.paging import Page
from measurements.selectors.reference import reference
from measurements.selectors.tests import comparison
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.tests.filtered_tests import TestFilters
from measurements.selectors.tests.tests import TestRow
from measurements.services.tests import tests as tests_services
from measurements.services.uploads.uploads import parse_settings

# A test's sweep as a Touchstone file that was made here, and the query words that ask for it.


def render_corrected_sweep(viewer: Viewer, test: str, role: str, form: str) -> HttpResponseBase:
    """Return the file. Raises BenchnightError `query.form`, `corrected.*`."""
    if form == RAW_FORM:
        raise BenchnightError(
            "query.form",
            f"Say which form: {', '.join(tests_selectors.CORRECTED_FORMS)}; without format you get the "
            f"raw bytes.",
            field="form",
        )
    if role != "sweep":
        raise BenchnightError(
            "query.form", "Only the role sweep has other forms; take this file as it is.", field="form"
        )
    made = tests_selectors.get_corrected_sweep(viewer, test, form)
    comments = [
        f"Benchnight: test {test}, {form}.",
        *made.said,
        "A sweep at milliwatts proves nothing about power.",
    ]
    content = touchstone.format_touchstone(made.sweep, comments=comments)
    return replies.render_text(content, "text/x-touchstone", f"test-{test}-{form}.s{made.sweep.ports}p")


def check_raw_form(form: str) -> None:
    """Refuse a form that only a file made here can have. Raises BenchnightError `query.form`."""
    if form != RAW_FORM:
        raise BenchnightError("query.form", f"Ask for {form} with format=touchstone.", field="form")


# What belongs to a test: its files, its chart, and where it stands within its design's evidence.


class TestSweepView(ResourceView):
    __test__ = False
    renderer_classes = (Raw, Touchstone)
    words = SweepQuery
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "test_sweep",
        "tests",
        "A file of a test",
        "The original bytes, unchanged, with their SHA-256 in Content-Digest. With `?format=touchstone` the "
        "test's sweep as a Touchstone file in one of two forms, whose head says how it was made. "
        "`form=merged`: with the sweep of the device turned round as one full two-port. `form=compensated`: "
        "a common-mode test after its jig's corrections, as the two-port of a series impedance.",
        shows=None,
        media={"application/octet-stream": BINARY_SCHEMA, "text/x-touchstone": TEXT_SCHEMA},
        words=SweepQuery,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str, role: str) -> HttpResponseBase:
        row, data = tests_selectors.get_sweep_file(self.viewer, id, role)
        form = self.asked["form"]
        if request.accepted_renderer.format == "touchstone":
            return render_corrected_sweep(self.viewer, id, role, form)
        check_raw_form(form)
        name = f"{id}-{role}.{file_endings.find_safe_ending(data, row.name)}"
        return replies.render_attachment(data, name, row.sha256)


class TestChartView(ResourceView):
    __test__ = False
    renderer_classes = CHART_RENDERERS
    words = ChartQuery
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "test_chart",
        "tests",
        "Chart of a test",
        "Its curves as a Vega-Lite specification, or with `?format=svg` or `png` drawn.",
        shows={"type": "object"},
        media={"image/svg+xml": TEXT_SCHEMA, "image/png": BINARY_SCHEMA},
        words=ChartQuery,
        example=examples.CHART,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        test = tests_selectors.get_test(self.viewer, id)
        bands = reference.list_bands(test.settings.get("region"), test.measured_on)
        traces, scale = tests_selectors.get_traces(self.viewer, id), self.asked["scale"]
        return replies.render_chart(request, test_chart.build_test_chart(test, traces, bands, scale=scale))


class TestComparisonView(ResourceView):
    __test__ = False
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "test_comparison",
        "tests",
        "A test within its design's evidence",
        "Per band the percentile of the test's worst rejection among the published devices of its design.",
        shows=Comparison,
        example=examples.COMPARISON,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(Comparison.represent(comparison.compare_test(self.viewer, id)))


FILTER_WORDS = ("device", "kind", "night", "state", "flag", "order")
TEST_FIELDS = ("device", "measured_on", "night")


class TestsView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    parser_classes = (Multipart,)
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = TestQuery

    @describe_operation(
        "tests",
        "tests",
        "Your tests",
        "Your own tests, the last recorded first; an operator's own nights' as well, all for a steward.",
        shows=make_list_serializer(TestShown, name="Tests"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=TestQuery,
        example=examples.make_list(examples.TEST),
        members_only=True,
    )
    def get(self, request: Request) -> HttpResponseBase:
        def fetch(cursor: str | None, limit: int) -> Page[TestRow]:
            asked = TestFilters(**{name: self.asked[name] for name in FILTER_WORDS if name in self.asked})
            return tests_selectors.list_tests(self.viewer, asked=asked, cursor=cursor, limit=limit)

        return replies.render_list(request, TestShown, self.asked, fetch)

    @describe_operation(
        "record_test",
        "tests",
        "Record a test",
        "Stores the files unchanged and computes the figures. Sending the same test again, as after a bad "
        "connection, answers 200 with the one already stored. A new test counts against an hourly limit, "
        "except on a night; repeats and refused ones do not.",
        shows=TestShown,
        status=201,
        also={200: TestShown},
        takes={"multipart/form-data": TestForm},
        example=examples.TEST,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        texts = parsers.read_setting_texts(request, TEST_FIELDS)
        # an evening at the bench, which only its operators can name, has no hourly limit
        by_hour = throttling.count_new_upload(self.viewer, self._check_uploads)
        stored = tests_services.record_test(
            by=self.viewer,
            device=parsers.require_text(texts, "device", "the key of the device"),
            measured_on=_parse_day(parsers.require_text(texts, "measured_on", "the day of the measurement")),
            settings=parse_settings({name: text for name, text in texts.items() if name not in TEST_FIELDS}),
            uploads=parsers.read_files(request),
            night=texts.get("night") or None,
            counted=None if texts.get("night") else by_hour,
        )
        data = TestShown.represent(tests_selectors.get_test(self.viewer, stored.key))
        where = build_absolute_address(request, "test", stored.key)
        return Response(data, status=201 if stored.created else 200, headers={"Location": where})

    def _check_uploads(self, counted: throttling.CountedRequest) -> None:
        self.keep_within(counted, "limit.uploads")


class TestView(ResourceView):
    __test__ = False
    members_only = frozenset({"GET", "HEAD", "PATCH", "DELETE"})

    @describe_operation(
        "test",
        "tests",
        "A test",
        "With its result, its files and whether it counts as evidence.",
        shows=TestShown,
        example=examples.TEST,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(TestShown.represent(tests_selectors.get_test(self.viewer, id)))

    @describe_operation(
        "change_test",
        "tests",
        "Keep a test private, or let it count",
        "The choice of its owner alone. A private test counts for the state of its device and is in nothing "
        "published from now on; what is published of it stays until the design is renewed.",
        shows=TestShown,
        takes={"application/json": TestChange},
        sends={"private": True},
        example=examples.TEST,
        refuses=(404,),
        members_only=True,
    )
    def patch(self, request: Request, id: str) -> Response:
        given = TestChange(data=request.data)
        given.is_valid(raise_exception=True)
        tests_services.set_privacy(by=self.viewer, test=id, private=given.validated_data["private"])
        return Response(TestShown.represent(tests_selectors.get_test(self.viewer, id)))

    @describe_operation(
        "withdraw_test",
        "tests",
        "Withdraw a test",
        "Deletes the test, its files and its figures; what was published of it stays until the design "
        "is renewed. What was "
        "downloaded before cannot be recalled.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> HttpResponseBase:
        tests_services.withdraw_test(by=self.viewer, test=id)
        return Response(status=204)


def _parse_day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise BenchnightError("field.date", "Give a day as YYYY-MM-DD.", field="measured_on") from error
