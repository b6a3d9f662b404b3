"""What one stored result says for upkeep: per band the judged figure at its worst, against the group's limit.

A result is judged again here, because its own `meets` may hold it against a benchmark that its uploader asked
for. A test counts only where it is believed: no steward left it out and no flag of severity "exclude" is
raised on it. A band that such a flag names is not judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

# Kinds and days as reasons say them.

KIND_LABELS = {
    "common_mode": "Common mode",
    "load_match": "Load match",
    "insertion_loss": "Insertion loss",
    "balance": "Balance",
    "in_situ": "At the antenna",
    "dc": "Ohmmeter",
}


def format_day(value: date) -> str:
    """Return a date in words."""
    return f"{value.day} {value:%B %Y}"


@dataclass(frozen=True)
class JudgedMetric:
    """How a kind is judged: the metric of a band, whether high is good, and how a figure is written."""

    metric: str
    high_is_good: bool
    unit: str
    digits: int
    words: str


JUDGED_METRICS: dict[str, JudgedMetric] = {
    "common_mode": JudgedMetric("rejection_db", True, "dB", 1, "rejection"),
    "load_match": JudgedMetric("swr", False, "", 2, "SWR"),
    "insertion_loss": JudgedMetric("loss_db", False, "dB", 2, "loss"),
    # a balance test has two limits; the verdict of its engine stands, the amplitude is what is shown
    "balance": JudgedMetric("amplitude_imbalance_db", False, "dB", 2, "amplitude imbalance"),
    "in_situ": JudgedMetric("swr_through", False, "", 2, "SWR through the device"),
}

# U of a figure that an older engine stored without one: what trade practice still calls meaningful (house
# default, no source)
UNKNOWN_UNCERTAINTY = {"common_mode": 2.0, "insertion_loss": 0.25, "load_match": 0.15}


@dataclass(frozen=True)
class BandFact:
    """One band. meets: None where nothing may be judged. at_least: worst is a lower bound.

    uncertainty: U of the worst figure, None where nobody knows it. too_close: the figure lies within U of
    its limit, so that it neither meets nor falls short.
    """

    band: str
    meets: bool | None
    worst: float | None
    at_least: bool = False
    uncertainty: float | None = None
    too_close: bool = False


@dataclass(frozen=True)
class DcFact:
    """What an ohmmeter test says. wrong: each reading that does not hold, in words.

    shows_through_path: whether these readings rule out a broken and a shorted wire in this type. dc_type: the
    type that they were held against.
    """

    meets: bool | None
    wrong: tuple[str, ...]
    read: int
    shows_through_path: bool
    dc_type: str | None = None


@dataclass(frozen=True)
class TestFact:
    """One test. why_not: the first reason for which it is not believed, empty where it is.

    recorded_at: when it was stored; a mark made later asks for a later one.
    """

    __test__ = False  # pytest would take the trade's word for one of its own

    key: str
    kind: str
    method: str
    measured_on: date
    bands: tuple[BandFact, ...]
    limit: float | None
    why_not: str = ""
    finding: str = ""
    dc: DcFact | None = None
    recorded_at: datetime | None = None

    @property
    def believed(self) -> bool:
        return not self.why_not

    @property
    def useful(self) -> bool:
        """Say whether it says anything: believed, and some band is judged."""
        if self.dc is not None:
            return self.believed and self.dc.meets is not None
        return self.believed and any(band.meets is not None for band in self.bands)

    @property
    def by_band(self) -> dict[str, BandFact]:
        return {band.band: band for band in self.bands}


def build_test_fact(
    *,
    key: str,
    measured_on: date,
    result: Mapping[str, Any],
    limits: Mapping[str, float],
    excluded_reason: str = "",
    waits_for: str = "",
    recorded_at: datetime | None = None,
) -> TestFact:
    """Return the facts of a stored result (the contract's result object).

    limits: kind -> the group's limit in force; a kind without one keeps the engine's verdict.
    waits_for: why the test does not count yet, in a sentence; empty where it does.
    """
    kind = result["kind"]
    flags = [flag for flag in result["flags"] if flag["severity"] == "exclude"]
    whole = [flag["message"] for flag in flags if flag["band"] is None]
    out = {flag["band"] for flag in flags if flag["band"] is not None}
    limit = limits.get(kind)
    left_out = ("A steward left it out: " + excluded_reason) if excluded_reason else ""
    why_not = left_out or next(iter(whole), "") or waits_for
    return TestFact(
        key=key,
        kind=kind,
        method=result["method"],
        measured_on=measured_on,
        bands=tuple(
            _build_band_fact(kind, band, limit, band["band"] in out)
            for band in result["bands"]
            if band["coverage"] != "none"
        ),
        limit=limit,
        why_not=why_not,
        finding=result["summary"].get("finding") or "",
        dc=_build_dc_fact(result["summary"]) if kind == "dc" else None,
        recorded_at=recorded_at,
    )


def _build_dc_fact(summary: Mapping[str, Any]) -> DcFact:
    rows = summary["readings"]
    return DcFact(
        meets=summary["meets"],
        wrong=tuple(_format_dc_reading(row) for row in rows if row["holds"] is False),
        read=len(rows),
        shows_through_path=_shows_through_path(summary),
        dc_type=summary.get("dc_type"),
    )


def _shows_through_path(summary: Mapping[str, Any]) -> bool:
    """Tell whether each wire was read through, and none to the other: only a 1:1 current device shows both.

    With an arrester in place nothing is expected between centre and shell, so a short would not show.
    """
    good = {frozenset((row["from"], row["to"])) for row in summary["readings"] if row["holds"]}
    wanted = (frozenset("CA"), frozenset("SB"), frozenset("CS"))
    return summary.get("dc_type") == "current_1_1" and all(pair in good for pair in wanted)


def _format_dc_reading(row: Mapping[str, Any]) -> str:
    read = "open" if row["ohm"] is None else f"{row['ohm']:g} ohm"
    wanted = {"joined": "joined", "open": "open"}.get(row["expected"], "10 kilohm or more")
    return f"{row['from']} to {row['to']} reads {read} and should be {wanted}"


def format_figure(kind: str, value: float) -> str:
    """Return a judged figure with its unit, such as `21.4 dB` or `1.62`."""
    judged = JUDGED_METRICS[kind]
    return f"{value:.{judged.digits}f} {judged.unit}".strip()


def format_band_figure(test: TestFact, band: BandFact) -> str:
    """Return the figure of a band with its unit, and "at least" where it is a lower bound."""
    written = format_figure(test.kind, band.worst) if band.worst is not None else "no figure"
    return f"at least {written}" if band.at_least else written


def _build_band_fact(band_kind: str, band: Mapping[str, Any], limit: float | None, out: bool) -> BandFact:
    judged = JUDGED_METRICS[band_kind]
    metric = band.get(judged.metric)
    worst = metric.get("worst") if isinstance(metric, Mapping) else None
    meets, uncertainty = band.get("meets"), _get_uncertainty(band, judged)
    undecided = band.get("decision") == "too_close"
    if out or worst is None:
        meets, undecided = None, False
    elif limit is not None and (meets is not None or undecided):
        if uncertainty is None:
            uncertainty = None if undecided else UNKNOWN_UNCERTAINTY.get(band_kind)
        meets = _judge(worst, uncertainty, limit, high_is_good=judged.high_is_good)
        undecided = meets is None
    bound = band.get("judged_by_bound") is True
    if bound and meets is False and band.get("meets") is not False:
        meets, undecided = None, True  # a lower bound below the limit is no failure
    return BandFact(band["band"], meets, worst, bound, uncertainty, undecided)


def _get_uncertainty(band: Mapping[str, Any], judged: JudgedMetric) -> float | None:
    """Return U of the judged figure, None where it is unknown."""
    found: float | None = band.get("uncertainty", {}).get(judged.metric)
    return found


def _judge(worst: float, uncertainty: float | None, limit: float, *, high_is_good: bool) -> bool | None:
    """Say whether a figure keeps to a limit by its uncertainty or more; None where it is too close to
    call.
    """
    if uncertainty is None:
        return None
    inside = worst - limit if high_is_good else limit - worst
    if inside >= uncertainty:
        return True
    return False if -inside >= uncertainty else None
