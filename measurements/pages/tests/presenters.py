"""Which figures of a result are shown, by kind: the columns of the band table and the summary lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from measurements.pages.layout import fault_wording, figures, wording
from measurements.pages.layout.wording import DECISIONS, VERDICTS, Badge
from measurements.rf.instruments.impossible_figures import IMPOSSIBLE_GAIN, NEGATIVE_RESISTANCE

Format = Callable[[Any], str]


def _decimals(digits: int) -> Format:
    return lambda value: figures.format_number(value, digits)


DB, DB2, SWR, DEG = _decimals(1), _decimals(2), figures.format_swr, _decimals(1)


@dataclass(frozen=True)
class Column:
    """A figure of a band. part None: the metric is a plain value, not worst/centre/best."""

    title: str
    unit: str
    metric: str
    part: str | None
    write: Format


@dataclass(frozen=True)
class SummaryLine:
    """A figure of the whole sweep."""

    title: str
    key: str
    unit: str
    write: Format


@dataclass(frozen=True)
class BandLine:
    """A band of a result as it is shown.

    check: what to look at where the figures cannot be right; they are not shown then.
    """

    band: str
    said: Badge
    coverage: str
    cells: tuple[str, ...]
    headline: str
    check: str = ""


COLUMNS: dict[str, tuple[Column, ...]] = {
    "dc": (),
    "common_mode": (
        Column("Worst rejection", "dB", "rejection_db", "worst", DB),
        Column("at", "MHz", "rejection_db", "worst_hz", figures.format_mhz),
        Column("Centre", "dB", "rejection_db", "centre", DB),
        Column("Best", "dB", "rejection_db", "best", DB),
        Column("Smallest |Z|", "ohm", "impedance_ohm", "worst", figures.format_ohm),
        Column("Smallest R", "ohm", "resistance_ohm", "worst", figures.format_ohm),
        Column("Z at centre", "ohm", "impedance_centre_ohm", None, figures.format_complex_ohm),
    ),
    "load_match": (
        Column("Worst SWR", "", "swr", "worst", SWR),
        Column("at", "MHz", "swr", "worst_hz", figures.format_mhz),
        Column("Centre", "", "swr", "centre", SWR),
        Column("Worst return loss", "dB", "return_loss_db", "worst", DB),
        Column("Input at centre", "ohm", "input_centre_ohm", None, figures.format_complex_ohm),
    ),
    "insertion_loss": (
        Column("Worst loss", "dB", "loss_db", "worst", DB2),
        Column("at", "MHz", "loss_db", "worst_hz", figures.format_mhz),
        Column("Centre", "dB", "loss_db", "centre", DB2),
        Column("Turned to heat", "dB", "dissipative_db", "worst", DB2),
        Column("Reflected", "dB", "mismatch_db", "worst", DB2),
        Column("Half the pair", "dB", "halved_db", "worst", DB2),
        Column("Heat of 100 W", "W", "heat_w_per_100_w", "worst", DB),
        Column("Uncertainty", "dB", "uncertainty_db", "worst", DB2),
    ),
    "balance": (
        Column("Worst amplitude imbalance", "dB", "amplitude_imbalance_db", "worst", DB2),
        Column("at", "MHz", "amplitude_imbalance_db", "worst_hz", figures.format_mhz),
        Column("Worst phase imbalance", "degrees", "phase_imbalance_deg", "worst", DEG),
        Column("Worst CMRR", "dB", "cmrr_db", "worst", DB),
        Column("Loss", "dB", "loss_db", "worst", DB2),
    ),
    "in_situ": (
        Column("Through the device", "SWR", "swr_through", "worst", SWR),
        Column("Bypassed", "SWR", "swr_bypassed", "worst", SWR),
    ),
}


def describe_change(change: str) -> str:
    """Say how a curve at the antenna compares with its commissioning."""
    return wording.CHANGES_SINCE_COMMISSIONING[change]


def name_methods(found: list[dict[str, Any]]) -> str:
    """Name the methods of insertion loss that can be believed on the analyser of a test, each with its U."""
    named = [
        f"{wording.METHODS[row['method']]}{' (with one more sweep)' if row['also_sweep'] else ''}, "
        f"U {row['uncertainty_db']:.2f} dB"
        for row in found
    ]
    return "; ".join(named) or "none, as it is described"


def describe_dc_type(dc_type: str) -> str:
    """Say what an ohmmeter test was held against."""
    return {
        "current_1_1": "1:1 current balun or choke",
        "all_joined": "all terminals joined",
    }[dc_type]


SUMMARY: dict[str, tuple[SummaryLine, ...]] = {
    "dc": (
        SummaryLine("Held against", "dc_type", "", describe_dc_type),
        SummaryLine("Insulation, dry", "insulation_mohm", "megohm", DB),
        SummaryLine("Insulation, wet", "insulation_wet_mohm", "megohm", DB),
    ),
    "common_mode": (
        SummaryLine("Meets the benchmark from", "meets_from_hz", "MHz", figures.format_mhz),
        SummaryLine("Meets the benchmark up to", "meets_to_hz", "MHz", figures.format_mhz),
        SummaryLine("Self-resonance", "self_resonance_hz", "MHz", figures.format_mhz),
        SummaryLine("Highest |Z|", "peak_impedance_ohm", "ohm", figures.format_ohm),
        SummaryLine("Highest |Z| at", "peak_impedance_hz", "MHz", figures.format_mhz),
        SummaryLine("Low-frequency inductance", "inductance_h", "µH", figures.format_microhenry),
        SummaryLine("Stray capacitance", "stray_capacitance_f", "pF", figures.format_picofarad),
        SummaryLine("Floor of the jig", "floor_db", "dB", DB),
    ),
    "load_match": (
        SummaryLine("Load resistor", "load_ohm", "ohm", DB),
        SummaryLine("Nominal load", "nominal_load_ohm", "ohm", DB),
        SummaryLine("SWR of that load alone", "load_alone_swr", "", SWR),
        SummaryLine("Limit", "swr_limit", "SWR", SWR),
    ),
    "insertion_loss": (
        SummaryLine("An ideal device would read", "ratio_floor_db", "dB", DB2),
        SummaryLine("Limit", "loss_limit_db", "dB", DB2),
        SummaryLine("Residual of the pairs", "residual_db", "dB", DB2),
        SummaryLine("Methods to believe on this analyser", "believable_methods", "", name_methods),
    ),
    "balance": (
        SummaryLine("Limit of amplitude imbalance", "amplitude_limit_db", "dB", DB2),
        SummaryLine("Limit of phase imbalance", "phase_limit_deg", "degrees", DEG),
    ),
    "in_situ": (
        SummaryLine("Through the device", "through_since_commissioning", "", describe_change),
        SummaryLine("With the jumper", "bypassed_since_commissioning", "", describe_change),
    ),
}

# flags on figures that no passive device has
IMPOSSIBLE_CODES = frozenset({*IMPOSSIBLE_GAIN, *NEGATIVE_RESISTANCE})
CHECKS = {
    "common_mode": "check the calibration at the clips and the jig's files",
    "load_match": "check the calibration at the clips",
    "insertion_loss": "check the resistor, the ratio and which file is which",
    "balance": "check the calibration at the clips",
    "in_situ": "check the calibration at the clips",
}

SETTLING = {
    "common_mode": "{bands}: nearer to the limit than the uncertainty. Sweep the jig closed on itself and "
    "add it as jig_through, calibrate at the clips just before, and describe the analyser.",
    "load_match": "{bands}: nearer to the limit than the uncertainty. Measure the load resistor, keep its "
    "leads short, calibrate at the clips just before, and describe the analyser.",
    "insertion_loss": "{bands}: nearer to the limit than the uncertainty. Measure the resistor, calibrate at "
    "the clips just before, and describe the analyser.",
    "balance": "{bands}: nearer to a limit than the uncertainty. Calibrate at the clips just before, and "
    "describe the analyser.",
}

COVERAGE = {
    "full": "whole band",
    "interpolated": "between two points",
    "partial": "part of the band",
    "none": "not swept",
}


def list_columns(result: dict[str, Any]) -> tuple[Column, ...]:
    """Return the columns that this result has anything for."""
    return tuple(
        column
        for column in COLUMNS[result["kind"]]
        if any(_get_figure(band, column) is not None for band in result["bands"])
    )


def present_bands(result: dict[str, Any]) -> tuple[BandLine, ...]:
    """Return every band that the sweep reaches, as it is shown."""
    shown = list_columns(result)
    impossible = {flag["band"] for flag in result.get("flags", ()) if flag["code"] in IMPOSSIBLE_CODES}
    return tuple(
        _present_band(result["kind"], band, shown, hidden=bool({None, band["band"]} & impossible))
        for band in result["bands"]
        if band["coverage"] != "none"
    )


def _present_band(kind: str, band: dict[str, Any], shown: tuple[Column, ...], *, hidden: bool) -> BandLine:
    """Return a band as it is shown. hidden: its figures cannot be right."""
    return BandLine(
        band=band["band"],
        said=_get_band_badge(kind, band),
        coverage=COVERAGE.get(band["coverage"], band["coverage"]),
        cells=tuple(
            figures.NO_VALUE if hidden else column.write(_get_figure(band, column)) for column in shown
        ),
        headline="cannot be" if hidden else _headline(band, shown),
        check=CHECKS[kind] if hidden else "",
    )


def get_decision(band: dict[str, Any]) -> str:
    """Return the decision on a band; of a result that an older engine made, what its `meets` says."""
    earlier = {True: "meets", False: "falls_short", None: "not_judged"}
    decision: str = band.get("decision") or earlier[band.get("meets")]
    return decision


def _get_band_badge(kind: str, band: dict[str, Any]) -> Badge:
    if kind == "in_situ":
        return fault_wording.get_bypass_badge(band.get("finding") or "inconclusive")
    return DECISIONS[get_decision(band)]


def summarise_result(result: dict[str, Any]) -> tuple[Badge, str]:
    """Return summarise a result as a shape and in words, whatever its kind."""
    summary = result["summary"]
    if result["kind"] == "dc":
        meets = summary.get("meets")
        return _get_meets_badge(meets), wording.DC_VERDICTS[meets]
    finding = summary.get("finding")
    if result["kind"] == "in_situ" and not finding:
        return fault_wording.get_bypass_badge(""), wording.NO_ANTENNA_BANDS
    if finding:
        badge = fault_wording.get_bypass_badge(finding)
        return badge, wording.FINDINGS.get(finding, badge.word)
    return summarise_verdicts(present_bands(result))


def _get_meets_badge(meets: bool | None) -> Badge:
    return DECISIONS[{True: "meets", False: "falls_short", None: "not_judged"}[meets]]


def present_dc_readings(result: dict[str, Any]) -> list[tuple[str, str, str, Badge]]:
    """Return present the readings of an ohmmeter test: pair, reading, what was expected, whether it holds."""
    rows = result["summary"].get("readings", []) if result["kind"] == "dc" else []
    return [
        (
            f"{row['from']} to {row['to']}",
            "open" if row["ohm"] is None else f"{row['ohm']:g} ohm",
            wording.DC_EXPECTED[row["expected"]],
            _get_meets_badge(row["holds"]),
        )
        for row in rows
    ]


def summarise_verdicts(lines: tuple[BandLine, ...]) -> tuple[Badge, str]:
    """Return the verdict over the bands that could be judged, as a shape and in words."""
    judged = [line for line in lines if line.said is not DECISIONS["not_judged"]]
    meeting = sum(line.said is DECISIONS["meets"] for line in judged)
    close = sum(line.said is DECISIONS["too_close"] for line in judged)
    if not judged:
        check = next((line.check for line in lines if line.check), "")
        return DECISIONS["not_judged"], f"Not judged: {check}" if check else "Not judged on any band"
    if meeting == len(judged):
        whole = {1: "its one band", 2: "both bands"}.get(meeting, f"all {meeting} bands")
        return DECISIONS["meets"], f"Meets on {whole}"
    if close == len(judged):
        whole = {1: "its one band", 2: "both bands"}.get(close, f"all {close} bands")
        return DECISIONS["too_close"], f"Too close to call on {whole}"
    doubt = f", too close to call on {close}" if close else ""
    if meeting:
        short = meeting + close < len(judged)
        said = VERDICTS["mixed"] if short else DECISIONS["too_close"]
        return said, f"Meets on {meeting} of {len(judged)} bands{doubt}"
    short = len(judged) - close
    words = (
        "Falls short on every band" if not close else f"Falls short on {short} of {len(judged)} bands{doubt}"
    )
    return DECISIONS["falls_short"], words


def describe_what_settles(result: dict[str, Any]) -> str:
    """Explain how to settle bands that are too close to call; empty where none is, or a flag says it
    already.
    """
    close = [band["band"] for band in result["bands"] if get_decision(band) == "too_close"]
    if not close or any(flag["code"] == "uncertainty_large" for flag in result["flags"]):
        return ""
    return SETTLING.get(result["kind"], "").format(bands=", ".join(close))


def say_first_line(result: dict[str, Any], said: str) -> str:
    """Begin with what the verdict rests on where two devices were taken to be alike."""
    return f"Two devices taken to be alike: {said}" if result.get("method") == "back_to_back" else said


def list_summary_lines(result: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield title and figure with unit, for every figure that exists."""
    for line in SUMMARY[result["kind"]]:
        value = result["summary"].get(line.key)
        if value is not None:
            yield line.title, f"{line.write(value)} {line.unit}".strip()


def describe_result_limit(result: dict[str, Any]) -> str:
    """Describe the limit of the bands in words."""
    summary = result["summary"]
    words = {
        "common_mode": ("benchmark_db", "a rejection of {:g} dB or more"),
        "load_match": ("swr_limit", "an SWR of {:g} or less"),
        "insertion_loss": ("loss_limit_db", "a loss of {:g} dB or less"),
    }
    if result["kind"] in words:
        key, sentence = words[result["kind"]]
        return sentence.format(summary[key]) if summary.get(key) is not None else ""
    if result["kind"] == "balance" and summary.get("amplitude_limit_db") is not None:
        return f"{summary['amplitude_limit_db']:g} dB and {summary['phase_limit_deg']:g} degrees or less"
    return ""


def _headline(band: dict[str, Any], shown: tuple[Column, ...]) -> str:
    """Return the band's first figure with its unit, such as `31.2 dB`."""
    if not shown:
        return figures.NO_VALUE
    first = shown[0]
    written = first.write(_get_figure(band, first))
    uncertainty = (band.get("uncertainty") or {}).get(first.metric)
    if uncertainty is not None and first.part == "worst" and written != figures.NO_VALUE:
        written = f"{written} ± {first.write(uncertainty)}"
    return f"{written} {first.unit}".strip()


def _get_figure(band: dict[str, Any], column: Column) -> Any:
    metric = band.get(column.metric)
    if column.part is None or metric is None:
        return metric
    return metric.get(column.part) if isinstance(metric, dict) else metric
