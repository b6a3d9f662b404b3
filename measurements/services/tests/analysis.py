"""From uploaded bytes to figures, without storing anything: what `tests.record` does first, and what
`analyse/` and the preview of the upload page do alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from django.conf import settings
from django.utils import timezone
from numpy.typing import NDArray

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.errors import BenchnightError
from measurements.models import NightOperator, Result, Test, group_facts
from measurements.rf.analyser import parse_analyser
from measurements.rf.analysis import Analysis, Request, analyse
from measurements.rf.impedance_ratio import parse_ratio
from measurements.rf.request import Limits, LossCurve
from measurements.rf.sweeps import file_endings, reading, result_values, typed_readings
from measurements.rf.sweeps.sweep import Sweep
from measurements.rf.sweeps.typed_readings import Readings
from measurements.services.analysers.descriptions import resolve_analyser
from measurements.services.reference import benchmarks
from measurements.services.reference.band_plan import BandPlanLookup, get_band_plan
from measurements.services.tests.upload_statements import UploadFacts
from measurements.services.uploads import uploads
from measurements.services.uploads.uploads import TestSettings, Upload

# The trusted device of a `known_partner` test: its loss as an own insertion-loss test stored it.

PARTNER_ASSUMPTION = "As stored by an earlier test."


def get_partner_loss(by: Viewer, key: str) -> LossCurve:
    """Return the stored loss of a test that `by` may see.

    Raises BenchnightError `test.partner`, the same for a test that is not there, not theirs or no loss.
    """
    test = Test.objects.select_related("device__contributor").filter(key=key, kind="insertion_loss").first()
    if test is None:
        raise _build_partner_error()
    operators = NightOperator.objects.of_bench(test.night_id, test.device_id)
    owner = test.device.contributor
    if not policy.can_see_test(by, Ownership(owner.member_id, operators, owner.is_group)):
        raise _build_partner_error()
    return get_stored_partner_loss(key)


def get_stored_partner_loss(key: str) -> LossCurve:
    """Return the same without asking who wants it: for recomputing a test that named this partner."""
    found = Result.objects.filter(test__key=key, current=True).values_list("trace_names", "traces").first()
    traces = result_values.unpack_traces(*found) if found else {}
    if "loss_db" not in traces:
        raise _build_partner_error()
    return build_partner_loss(traces)


def build_partner_loss(traces: Mapping[str, NDArray[np.float64]]) -> LossCurve:
    """Build the loss of a trusted device from the curves of its test."""
    return LossCurve(
        freq_hz=traces["freq_hz"],
        loss_db=traces["loss_db"],
        assumption=PARTNER_ASSUMPTION,
        mismatch_db=traces.get("mismatch_db"),
        uncertainty_db=traces.get("uncertainty_db"),
    )


def _build_partner_error() -> BenchnightError:
    return BenchnightError(
        "test.partner",
        "There is no insertion loss test of yours with this id. Store one of the trusted device first.",
        field="partner",
    )


# Reads what was uploaded, by role; a server may take fewer points than the reader does.


def read_sweeps(uploads: Mapping[str, Upload]) -> dict[str, Sweep]:
    """Raise BenchnightError `sweep.*` naming the role and the line at fault."""
    return {role: _read_sweep(role, upload) for role, upload in uploads.items()}


def _read_sweep(role: str, upload: Upload) -> Sweep:
    file_endings.check_ending(upload.data, upload.name, role=role)
    sweep = reading.read_sweep(upload.data, upload.name, role=role)
    most = settings.BENCHNIGHT_SWEEP_POINTS
    if sweep.points > most:
        raise BenchnightError(
            "sweep.too_many_points",
            f"The sweep has {sweep.points} points; the limit is {most}. Sweep with fewer points.",
            kind="too_large",
            field=role,
        )
    return sweep


@dataclass(frozen=True)
class AnalysedUploads:
    """The figures, and the sweeps they were computed from, by role."""

    analysis: Analysis
    sweeps: dict[str, Sweep]


def analyse_uploads(
    *,
    uploads_by_role: Mapping[str, Upload],
    settings: TestSettings,
    on: date | None = None,
    same_bytes: bool = False,
    by: Viewer = ANONYMOUS,
    facts: UploadFacts | None = None,
) -> AnalysedUploads:
    """Read every file and compute the figures of the test.

    by: whose partner test (`known_partner`) and described analyser may be used.
    on: the day whose band plan counts; today by default. same_bytes: the bytes are stored already.
    facts: limits and bands, where they were read already.
    Raises BenchnightError naming the field (and the line) at fault.
    """
    uploads.check_upload_roles(uploads_by_role)
    settings = resolve_analyser(by, settings)
    sweeps = read_sweeps(uploads_by_role)
    partner = get_partner_loss(by, settings.partner) if settings.partner else None
    request = build_request(
        sweeps=sweeps,
        settings=settings,
        on=on,
        same_bytes=same_bytes,
        partner=partner,
        judged_by=facts and benchmarks.build_limits(facts.limits, benchmark_db=settings.benchmark_db),
        plan=facts and (lambda _region, _day: facts.bands),
    )
    return AnalysedUploads(analyse(request), sweeps)


def build_request(
    *,
    sweeps: Mapping[str, Sweep],
    settings: TestSettings,
    on: date | None = None,
    same_bytes: bool = False,
    partner: LossCurve | None = None,
    judged_by: Limits | None = None,
    plan: BandPlanLookup | None = None,
) -> Request:
    """Build the engine's request: the sweeps, how they were wired, and the limits and bands in force.

    judged_by: the limits to hold it against in place of those in force. plan: `band_plan`, or what keeps its
    answers for many tests at once.
    """
    day = on or timezone.localdate()
    return Request(
        kind=settings.kind,
        method=settings.method,
        ratio=parse_ratio(settings.ratio),
        sweeps=dict(sweeps),
        readings=_readings(settings),
        dc=None if settings.dc is None else settings.dc.as_readings(),
        load_ohm=settings.load_ohm,
        series_ohm=settings.series_ohm,
        calibrated=settings.calibrated,
        limits=judged_by or benchmarks.get_current_limits(benchmark_db=settings.benchmark_db),
        bands=(plan or get_band_plan)(settings.region or group_facts.get_region(), day),
        partner=partner,
        same_bytes=same_bytes,
        analyser=parse_analyser(settings.analyser or {}),
        antenna_bands=settings.antenna_bands,
    )


def _readings(settings: TestSettings) -> Readings | None:
    """Return typed readings; an SWR is never below 1, a rejection or loss never negative."""
    if not settings.readings:
        return None
    least = 1.0 if settings.kind == "load_match" else 0.0
    return typed_readings.parse_readings(list(settings.readings), least=least)


# The common-mode impedance of a winding from files that are read and forgotten.

CURVE_ROLES = ("sweep", "sweep_reversed", "jig_through", "jig_open", "jig_short")


@dataclass(frozen=True)
class MeasuredCurve:
    """freq_hz (F,) and Zcm (F,), the jig taken out where it was swept, NaN where undefined."""

    freq_hz: NDArray[np.float64]
    z_ohm: NDArray[np.complex128]


def read_measured_curve(uploads_by_role: Mapping[str, Upload]) -> MeasuredCurve:
    """Read the files as a common-mode test, at most 801 points of it.

    Raises BenchnightError naming the field, and the line of a file that is at fault.
    """
    for role in uploads_by_role:
        if role not in CURVE_ROLES:
            raise BenchnightError(
                "identify.unknown_file",
                f"There is no such file field; known: {', '.join(CURVE_ROLES)}.",
                field=role,
            )
    if "sweep" not in uploads_by_role:
        raise BenchnightError("identify.no_sweep", "Send the sweep of the winding.", field="sweep")
    found = analyse_uploads(
        uploads_by_role=uploads_by_role, settings=TestSettings(kind="common_mode", calibrated=True)
    )
    traces = found.analysis.traces
    if "resistance_ohm" not in traces:
        raise BenchnightError(
            "identify.no_impedance",
            "This file has no phase, so no impedance follows from it: send S21, or S11 of a shorted far "
            "side, as "
            "complex numbers.",
            field="sweep",
        )
    z_ohm = np.asarray(traces["resistance_ohm"] + 1j * traces["reactance_ohm"], dtype=np.complex128)
    return MeasuredCurve(np.asarray(traces["freq_hz"], dtype=np.float64), z_ohm)
