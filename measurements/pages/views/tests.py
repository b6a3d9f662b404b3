"""One test: verdict per band, curves, flags, files, where it stands, and withdrawing it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import standing_chart, test_chart
from measurements.disclosure.circles import Viewer
from measurements.ingest import tests as register
from measurements.pages import bench, cautions, chart_scale, door, figures, metrics, tables, words
from measurements.pages.views import pictures
from measurements.queries import comparison, diagnosis, limit_basis, reference, tests
from measurements.queries.rows import BandRow, ComparisonRow, TestRow


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the page of an own test."""
    test = tests.one(viewer, key)
    traces = tests.traces(viewer, key)
    compared = comparison.of_test(viewer, key)
    both, scale = diagnosis.beside(viewer, test), pictures.scale(request)
    context = {
        **shown(test.kind, test.method, test.result, traces, compared.checks),
        "test": test,
        "comparison": _compared(compared),
        "outlier": compared.outlier,
        "likelihoods": compared.likelihoods,
        "causes": [(words.CAUSES[cause["code"]], cause["message"]) for cause in compared.causes],
        "standing_address": reverse("pages:test_standing", kwargs={"key": key, "form": "json"}),
        "standing_picture": reverse("pages:test_standing", kwargs={"key": key, "form": "svg"}),
        "left_out_words": words.SEVERITIES["exclude"],
        "release": compared.release,
        "chart_address": reverse("pages:test_chart", kwargs={"key": key, "form": "json"}),
        "picture_address": reverse("pages:test_chart", kwargs={"key": key, "form": "svg"}),
        "more": chart_scale.word(scale),
        "scales": chart_scale.choices(request, scale),
        "standing_table": tables.of_standing(both) if both and compared.outlier is not None else None,
    }
    return door.render(request, "test.html", context)


def shown(
    kind: str,
    method: str | None,
    result: dict[str, Any],
    traces: dict[str, Any],
    notes: tuple[dict[str, Any], ...] = (),
) -> dict[str, Any]:
    """What the page of a test and the checked result of an upload have in common.

    notes: on the recipe, said with the flags of the result.
    """
    lines = metrics.band_lines(result)
    overall, said = metrics.overall(lines)
    finding = result["summary"].get("finding")
    return {
        "kind_words": words.method(kind, method),
        "lines": lines,
        "overall": overall,
        "overall_words": words.FINDINGS.get(finding, said),
        "columns": metrics.columns(result),
        "summary": list(metrics.summary_lines(result)),
        "limit": metrics.limit_words(result),
        "limit_basis": limit_basis.of_result(result),
        "flags": _flags([*result["flags"], *notes]),
        "views": [
            (panel.name, words.CHART_NOTES[kind, panel.name]) for panel in test_chart.views(kind, traces)
        ],
        "table": tables.of_traces(kind, traces) if traces.get("freq_hz") else None,
        "cautions": cautions.for_kind(kind),
        "inputs": result.get("inputs", []),
        "guessed": any(each["source"] == "csv" for each in result.get("inputs", [])),
    }


def _flags(given: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Flags, the gravest first; the same sentence about several bands is said once."""
    said: dict[tuple[str, str], dict[str, Any]] = {}
    for flag in sorted(given, key=lambda each: list(words.SEVERITIES).index(each["severity"])):
        first = {**flag, "words": words.SEVERITIES[flag["severity"]], "bands": []}
        first["message"] = bench.in_words(flag["message"])
        shown_flag = said.setdefault((flag["code"], flag["message"]), first)
        if flag["band"]:
            shown_flag["bands"].append(flag["band"])
    return list(said.values())


def _compared(row: ComparisonRow) -> list[tuple[str, str, str, str, str]]:
    """Band, own figure, median, distance in words, and place, for bands with enough published devices."""
    compared = []
    for band in row.bands:
        if band["devices"] is None:
            continue
        away = band["from_median_db"]
        side = "above" if away >= 0 else "below"
        compared.append(
            (
                band["band"],
                figures.plain(band["own_db"]),
                figures.plain(band["median_db"]),
                f"{figures.plain(abs(away))} dB {side} the median",
                f"better than {band['percentile']:.0f} % of {band['devices']} devices",
            )
        )
    return compared


def chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the chart of an own test as Vega-Lite JSON or SVG."""
    test = tests.one(viewer, key)
    return drawn(request, test, tests.traces(viewer, key), bands_of(test), form)


def standing(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the curve of an own test over the range of its design's devices."""
    test = tests.one(viewer, key)
    both = diagnosis.beside(viewer, test)
    view = pictures.chosen(request, "view", standing_chart.VIEWS, "rejection")
    width_px = pictures.width_px(form, False)
    spec = (
        None
        if both is None
        else standing_chart.build(
            both,
            bands_of(test),
            view=view,
            scale=pictures.scale(request),
            tone=pictures.tone(request),
            width_px=width_px,  # type: ignore[arg-type]
        )
    )
    return pictures.reply(spec, form, own=True)


def drawn(
    request: HttpRequest, test: Any, traces: dict[str, Any], bands: tuple[BandRow, ...], form: str
) -> HttpResponse:
    """The chart of anything with `kind` and `result`."""
    names = [panel.name for panel in test_chart.views(test.kind, traces)]
    view = pictures.chosen(request, "view", ["all", *names], names[0] if names else "all")
    spec = test_chart.build(
        test,
        traces,
        bands,
        view=view,
        scale=pictures.scale(request),
        tone=pictures.tone(request),
        width_px=pictures.width_px(form, view == "all"),
    )
    return pictures.reply(spec, form, own=True)


def bands_of(test: TestRow) -> tuple[BandRow, ...]:
    """The band plan that the test was judged by."""
    return reference.bands(test.settings.get("region"), test.measured_on)


def sweep(_request: HttpRequest, viewer: Viewer, key: str, role: str) -> HttpResponse:
    """GET: a file of an own test, unchanged, as a download."""
    row, data = tests.sweep(viewer, key, role)
    response = HttpResponse(data, content_type="application/octet-stream")
    # the name was typed by a member: only plain characters of it reach a header
    plain = "".join(
        char if char.isascii() and (char.isalnum() or char in "._-") else "_" for char in row.name
    )
    response["Content-Disposition"] = f'attachment; filename="{plain}"'
    return response


def withdraw(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what withdrawing means. POST: withdraw."""
    test = tests.one(viewer, key)
    if request.method != "POST":
        context = {"test": test, "kind_words": words.method(test.kind, test.method)}
        return door.render(request, "test_withdraw.html", context)
    register.withdraw(by=viewer, test=key)
    messages.success(request, "The test is withdrawn. Its evidence goes with the next release.")
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": test.device}))
