"""Stores what an engine computed from a test: a newer engine adds a row, nothing is overwritten."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure import published_figures
from measurements.models import Result, SweepFile, Test
from measurements.rf import flags
from measurements.rf.analysis import ENGINE_VERSION, Analysis
from measurements.rf.sweeps import result_values
from measurements.rf.sweeps.sweep import Sweep
from measurements.services.evidence import recipe_doubts

# Arrays as the database holds them: little-endian, row-major, on every machine alike.

FLOAT_DTYPE = np.dtype("<f8")

COMPLEX_DTYPE = np.dtype("<c16")

CURVE_DTYPE = np.dtype("<c8")


def pack_sweep(sweep: Sweep) -> dict[str, Any]:
    """Return the columns of a `SweepFile` that hold what was read from its bytes."""
    return {
        "ports": sweep.ports,
        "points": sweep.points,
        "freq_hz": sweep.freq_hz.astype(FLOAT_DTYPE).tobytes(),
        "s": sweep.s.astype(COMPLEX_DTYPE).tobytes(),
        "z0_ohm": sweep.z0_ohm.tolist(),
        "measured": sweep.measured.ravel().tolist(),
        "magnitude_only": sweep.magnitude_only,
        "source": sweep.source,
        "notes": list(sweep.notes),
    }


def unpack_sweep(row: SweepFile) -> Sweep:
    """Return the sweep as it was read when the file came, bit for bit."""
    shape = (row.ports, row.ports)
    return Sweep(
        freq_hz=np.frombuffer(row.freq_hz, FLOAT_DTYPE),
        s=np.frombuffer(row.s, COMPLEX_DTYPE).reshape(-1, *shape),
        z0_ohm=np.array(row.z0_ohm, dtype=float),
        measured=np.array(row.measured, dtype=bool).reshape(shape),
        source=row.source,
        notes=tuple(row.notes),
        magnitude_only=row.magnitude_only,
    )


FIGURE_CURVE_DTYPE = np.dtype("<f4")


def pack_curve(z_ohm: NDArray[np.complex64]) -> bytes:
    """Return an evidence curve as stored."""
    return z_ohm.astype(CURVE_DTYPE).tobytes()


def _pack_curves(analysis: Analysis) -> bytes:
    """Return what an analysis leaves on the grid of evidence, as stored; empty where that is nothing."""
    if analysis.evidence is not None:
        return pack_curve(analysis.evidence.z_ohm)
    if analysis.figure_curves is not None:
        return analysis.figure_curves.values.astype(FIGURE_CURVE_DTYPE).tobytes()
    return b""


def add_result(test: Test, analysis: Analysis) -> Result:
    """Add the current engine's result and make it the current one. Call inside a transaction.

    Raises IntegrityError when this engine's result is stored already.
    """
    Result.objects.filter(test=test, current=True).update(current=False)
    row = build_result(test, analysis)
    row.test = test
    row.save(force_insert=True)
    return row


def add_results(computed: Sequence[tuple[Test, Analysis]]) -> None:
    """Store results of many tests at once, which have results of older engines. Raises as `add`."""
    Result.objects.filter(test__in=[test.pk for test, _ in computed], current=True).update(current=False)
    rows = [build_result(test, analysis) for test, analysis in computed]
    for row, (test, _) in zip(rows, computed, strict=True):
        row.test = test
    Result.objects.bulk_create(rows)


def build_result(test: Test, analysis: Analysis) -> Result:
    """Build the row of a result, not yet joined to its test."""
    curves = _pack_curves(analysis)
    names, traces = result_values.pack_traces(analysis.traces)
    counts = bool(curves) and recipe_doubts.counts_as_evidence(test, analysis.result)
    return Result(
        engine_version=ENGINE_VERSION,
        figures=analysis.result,
        trace_names=names,
        traces=traces,
        counts_as_evidence=counts,
        published=published_figures.extract_published_figures(analysis.result) if counts else None,
        evidence_curve=curves,
        flagged=flags.needs_review(analysis.result["flags"]),
    )
