"""One test: verdict per band, curves, flags, files, where it stands, and withdrawing it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import device_chart, test_chart
from measurements.disclosure import policy, published_figures
from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import (
    cautions,
    chart_replies,
    diagnosis_words,
    figures,
    procedures,
    rendering,
    tables,
    wording,
)
from measurements.pages.tests import presenters
from measurements.rf.sweeps import file_endings
from measurements.selectors.reference import reference
from measurements.selectors.reference.reference import BandRow
from measurements.selectors.tests import comparison
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.tests.comparison import ComparisonRow
from measurements.selectors.tests.tests import TestRow
from measurements.services.tests import tests as tests_services


def show_test(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the page of an own test."""
    test = tests_selectors.get_test(viewer, key)
    traces = tests_selectors.get_traces(viewer, key)
    compared = comparison.compare_test(viewer, key)
    both, scale = comparison.get_curve_comparison(viewer, test), chart_replies.get_scale(request)
    context = {
        **build_result_context(test.kind, test.method, test.result, traces, compared.checks),
        "test": test,
        "may_publish": test.kind in published_figures.KIND_RULES
        and policy.can_publish_test(viewer, test.owner),
        "comparison": _present_comparison(compared),
        "outlier": compared.outlier,
        "likely": diagnosis_words.list_likely(compared.likelihoods),
        "doubt": diagnosis_words.present_doubt(test.recipe_doubt) if _contradicts(test) else None,
        "causes": [(wording.CAUSES[cause["code"]], cause["message"]) for cause in compared.causes],
        "ratio_diagnosis": diagnosis_words.present_ratio_diagnosis(compared.ratio_diagnosis),
        "standing_address": reverse("pages:test_standing", kwargs={"key": key, "form": "json"}),
        "standing_picture": reverse("pages:test_standing", kwargs={"key": key, "form": "svg"}),
        "left_out_words": wording.SEVERITIES["exclude"],
        "release": compared.release,
        "chart_address": reverse("pages:test_chart", kwargs={"key": key, "form": "json"}),
        "picture_address": reverse("pages:test_chart", kwargs={"key": key, "form": "svg"}),
        "more": chart_replies.get_scale_parameter(scale),
        "scales": chart_replies.list_scale_choices(request, scale),
        "standing_table": tables.build_device_comparison_table(both)
        if both and compared.outlier is not None
        else None,
    }
    return rendering.render_page(request, "tests/test.html", context)


def _contradicts(test: TestRow) -> bool:
    return test.recipe_doubt is not None and test.recipe_doubt["contradicts"]


def confirm_recipe(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """Take the POST by which the owner answers for the recipe; the test counts from now on."""
    tests_services.confirm_recipe(by=viewer, test=key)
    messages.success(
        request, "Noted: the recipe is right. The test counts as evidence, if nothing else is against it."
    )
    return HttpResponseRedirect(reverse("pages:test", kwargs={"key": key}))


def submit_privacy(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """Take the POST by which the owner keeps a test private, or lets it count."""
    private = request.POST.get("private") == "yes"
    tests_services.set_privacy(by=viewer, test=key, private=private)
    messages.success(
        request,
        "The test is private: nothing published from now on holds it."
        if private
        else "The test can count as evidence from the next release on.",
    )
    return HttpResponseRedirect(reverse("pages:test", kwargs={"key": key}))


def build_result_context(
    kind: str,
    method: str | None,
    result: dict[str, Any],
    traces: dict[str, Any],
    notes: tuple[dict[str, Any], ...] = (),
) -> dict[str, Any]:
    """Collect the values that the page of a test and the check page of an upload share.

    notes: on the recipe, said with the flags of the result.
    """
    lines = presenters.present_bands(result)
    overall, said = presenters.summarise_result(result)
    return {
        "kind_words": wording.format_method(kind, method),
        "lines": lines,
        "overall": overall,
        "overall_words": presenters.say_first_line(result, said),
        "dc_readings": presenters.present_dc_readings(result),
        "settles": presenters.describe_what_settles(result),
        "columns": presenters.list_columns(result),
        "summary": list(presenters.list_summary_lines(result)),
        "limit": presenters.describe_result_limit(result),
        "limit_basis": tests_selectors.find_limit_basis(result),
        "flags": _merge_flags([*result["flags"], *notes]),
        "has_excluding": any(flag["severity"] == "exclude" for flag in result["flags"]),
        "views": [
            (panel.name, wording.CHART_NOTES[kind, panel.name])
            for panel in test_chart.list_panels(kind, traces)
        ],
        "table": tables.build_traces_table(kind, traces) if traces.get("freq_hz") else None,
        "cautions": cautions.list_cautions_for_kind(kind),
        "inputs": result.get("inputs", []),
        "guessed": any(each["source"] == "csv" for each in result.get("inputs", [])),
    }


def _merge_flags(given: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return flags, the gravest first; one sentence for all its bands."""
    said: dict[tuple[str, str], dict[str, Any]] = {}
    for flag in sorted(given, key=lambda each: list(wording.SEVERITIES).index(each["severity"])):
        first = {**flag, "words": wording.SEVERITIES[flag["severity"]], "bands": []}
        first["message"] = procedures.translate_roles(flag["message"])
        shown_flag = said.setdefault((flag["code"], flag["message"]), first)
        if flag["band"]:
            shown_flag["bands"].append(flag["band"])
    return list(said.values())


def _present_comparison(row: ComparisonRow) -> list[tuple[str, str, str, str, str]]:
    """Return band, own figure, median, distance in words, and place, for bands with enough published
    devices.
    """
    compared = []
    for band in row.bands:
        if band["devices"] is None:
            continue
        away = band["from_median_db"]
        side = "above" if away >= 0 else "below"
        compared.append(
            (
                band["band"],
                figures.format_number(band["own_db"]),
                figures.format_number(band["median_db"]),
                f"{figures.format_number(abs(away))} dB {side} the median",
                _write_place(band["percentile"], band["devices"]),
            )
        )
    return compared


def _write_place(percentile: float | None, devices: int) -> str:
    """Say where an own figure lies between published percentiles; below ten people only how many count."""
    if percentile is None:
        return f"{devices} devices"
    if percentile >= 90:
        return f"in the best tenth of {devices} devices"
    if percentile <= 10:
        return f"in the poorest tenth of {devices} devices"
    return f"better than about {percentile:.0f} % of {devices} devices"


def draw_test_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the chart of an own test as Vega-Lite JSON or SVG."""
    test = tests_selectors.get_test(viewer, key)
    return reply_test_chart(
        request, test, tests_selectors.get_traces(viewer, key), get_test_bands(test), form
    )


def draw_test_comparison_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the curve of an own test over the range of its design's devices."""
    test = tests_selectors.get_test(viewer, key)
    both = comparison.get_curve_comparison(viewer, test)
    view = chart_replies.get_choice(request, "view", device_chart.VIEWS, "rejection")
    width_px = chart_replies.choose_width_px(request, form, False)
    spec = (
        None
        if both is None
        else device_chart.build_device_chart(
            both,
            get_test_bands(test),
            view=view,
            scale=chart_replies.get_scale(request),
            tone=chart_replies.get_tone(request),
            width_px=width_px,  # type: ignore[arg-type]
        )
    )
    return chart_replies.reply_chart(spec, form, own=True)


def reply_test_chart(
    request: HttpRequest, test: Any, traces: dict[str, Any], bands: tuple[BandRow, ...], form: str
) -> HttpResponse:
    """Return the chart of anything with `kind` and `result`."""
    names = [panel.name for panel in test_chart.list_panels(test.kind, traces)]
    view = chart_replies.get_choice(request, "view", ["all", *names], names[0] if names else "all")
    spec = test_chart.build_test_chart(
        test,
        traces,
        bands,
        view=view,
        scale=chart_replies.get_scale(request),
        tone=chart_replies.get_tone(request),
        width_px=chart_replies.choose_width_px(request, form, view == "all"),
    )
    return chart_replies.reply_chart(spec, form, own=True)


def get_test_bands(test: TestRow) -> tuple[BandRow, ...]:
    """Return the band plan that the test was judged by."""
    return reference.list_bands(test.settings.get("region"), test.measured_on)


def download_sweep(_request: HttpRequest, viewer: Viewer, key: str, role: str) -> HttpResponse:
    """GET: a file of an own test, unchanged, as a download under a name of ours by its kind."""
    row, data = tests_selectors.get_sweep_file(viewer, key, role)
    response = HttpResponse(data, content_type="application/octet-stream")
    # the owner's own name stays in the list of files: nothing that somebody typed reaches a header
    name = f"{key}-{role}.{file_endings.find_safe_ending(data, row.name)}"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def show_test_withdrawal(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what withdrawing means. POST: withdraw."""
    test = tests_selectors.get_test(viewer, key)
    if request.method != "POST":
        context = {
            "test": test,
            "kind_words": wording.format_method(test.kind, test.method),
            "leaving": wording.format_leaving(settings.BENCHNIGHT_MIN_JOINERS),
        }
        return rendering.render_page(request, "tests/withdraw.html", context)
    tests_services.withdraw_test(by=viewer, test=key)
    messages.success(
        request,
        "The test is withdrawn and deleted. What was published of it stays until three others "
        "join the design.",
    )
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": test.device}))
