"""Stores what an engine computed from a test: a newer engine adds a row, nothing is overwritten."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from measurements.disclosure import published_figures
from measurements.ingest import arrays
from measurements.models import Result, Test
from measurements.rf import flag_catalogue, packed_traces
from measurements.rf.analysis import Analysis
from measurements.rf.engine import ENGINE_VERSION

EVIDENCE_KIND = "common_mode"


def add(test: Test, analysis: Analysis, *, first: bool = False) -> Result:
    """Adds the current engine's result and makes it the current one. Call inside a transaction.

    first: the test is new, there is no other result. Raises IntegrityError when this engine's result is
    stored already.
    """
    if not first:
        Result.objects.filter(test=test, current=True).update(current=False)
    row = _row(test, analysis)
    row.save(force_insert=True)
    return row


def add_all(computed: Sequence[tuple[Test, Analysis]]) -> None:
    """The same for many tests at once, which have results of older engines. Raises as `add`."""
    Result.objects.filter(test__in=[test.pk for test, _ in computed], current=True).update(current=False)
    Result.objects.bulk_create([_row(test, analysis) for test, analysis in computed])


def _row(test: Test, analysis: Analysis) -> Result:
    curve = analysis.evidence
    names, traces = packed_traces.pack(analysis.traces)
    counts = curve is not None and _believed(analysis.result)
    return Result(
        test=test,
        engine_version=ENGINE_VERSION,
        figures=analysis.result,
        trace_names=names,
        traces=traces,
        counts_as_evidence=counts,
        published=published_figures.of_result(analysis.result) if counts else None,
        evidence_curve=b"" if curve is None else arrays.curve_bytes(curve.z_ohm),
        flagged=flag_catalogue.asks_for_a_look(analysis.result["flags"]),
    )


def _believed(figures: dict[str, Any]) -> bool:
    """Evidence takes common-mode tests that no flag leaves out."""
    return figures["kind"] == EVIDENCE_KIND and not any(
        flag["severity"] == "exclude" and flag["band"] is None for flag in figures["flags"]
    )
