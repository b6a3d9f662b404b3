"""Parse the settings of an ohmmeter test: readings, type, options and insulation."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError, ErrorCollector
from measurements.rf.kinds import dc

DC_SETTING_NAMES = ("dc_readings", "dc_type", "dc_options", "insulation_mohm", "insulation_wet_mohm")


@dataclass(frozen=True)
class DcSettings:
    """What was typed of an ohmmeter test. readings: mappings with from, to and ohm (None: open)."""

    readings: tuple[dict[str, Any], ...]
    dc_type: str | None = None
    options: tuple[str, ...] = ()
    insulation_mohm: float | None = None
    insulation_wet_mohm: float | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the settings as stored."""
        return {
            "readings": list(self.readings),
            "dc_type": self.dc_type,
            "options": list(self.options),
            "insulation_mohm": self.insulation_mohm,
            "insulation_wet_mohm": self.insulation_wet_mohm,
        }

    def as_readings(self) -> dc.DcReadings:
        """Return the settings as the engine takes them."""
        return dc.DcReadings(
            readings=dc.parse_dc_readings(list(self.readings)),
            dc_type=self.dc_type,  # type: ignore[arg-type]  # checked when it was parsed
            options=self.options,
            insulation_mohm=self.insulation_mohm,
            insulation_wet_mohm=self.insulation_wet_mohm,
        )


def read_stored_dc(stored: Mapping[str, Any] | None) -> DcSettings | None:
    """Read what `as_json` stored."""
    if stored is None:
        return None
    return DcSettings(
        **{**stored, "readings": tuple(stored["readings"]), "options": tuple(stored["options"])}
    )


def parse_dc_settings(typed: Mapping[str, Any], kind: str, faults: ErrorCollector) -> DcSettings | None:
    """Parse the five fields; None where none is given. Faults are added, each under its own field."""
    given = [name for name in DC_SETTING_NAMES if name in typed]
    if kind != "dc":
        for name in given:
            faults.add(name, "test.dc", "Only an ohmmeter test (dc) takes this.")
        return None
    readings = _parse_list(typed.get("dc_readings"), faults)
    return DcSettings(
        readings=readings,
        dc_type=_parse_type(typed, faults),
        options=_parse_options(typed, faults),
        insulation_mohm=_parse_mohm(typed, "insulation_mohm", faults),
        insulation_wet_mohm=_parse_mohm(typed, "insulation_wet_mohm", faults),
    )


def _parse_list(given: Any, faults: ErrorCollector) -> tuple[dict[str, Any], ...]:
    if isinstance(given, str):
        try:
            given = json.loads(given)
        except (ValueError, RecursionError):
            given = None
    if not isinstance(given, list):
        faults.add("dc_readings", "dc.shape", 'Give a list such as [{"from": "C", "to": "A", "ohm": 0.2}].')
        return ()
    try:
        found = dc.parse_dc_readings(given)
    except BenchnightError as error:
        faults.take(error)
        return ()
    return tuple({"from": each.start, "to": each.end, "ohm": each.ohm} for each in found)


def _parse_type(typed: Mapping[str, Any], faults: ErrorCollector) -> str | None:
    if "dc_type" not in typed:
        return None
    if typed["dc_type"] in dc.DC_TYPES:
        return str(typed["dc_type"])
    faults.add("dc_type", "test.choice", f"Choose one of: {', '.join(dc.DC_TYPES)}.")
    return None


def _parse_options(typed: Mapping[str, Any], faults: ErrorCollector) -> tuple[str, ...]:
    named = [word.strip() for word in str(typed.get("dc_options", "")).split(",") if word.strip()]
    if not set(named) <= set(dc.DC_OPTIONS):
        faults.add("dc_options", "test.choice", f"Give any of: {', '.join(dc.DC_OPTIONS)}.")
        return ()
    return tuple(option for option in dc.DC_OPTIONS if option in named)


def _parse_mohm(typed: Mapping[str, Any], name: str, faults: ErrorCollector) -> float | None:
    if name not in typed:
        return None
    try:
        value = math.nan if isinstance(typed[name], bool) else float(str(typed[name]).replace(",", "."))
    except ValueError:
        value = math.nan
    if not 0 <= value <= dc.MOST_MOHM:
        faults.add(name, "test.number", f"Give a number from 0 to {dc.MOST_MOHM:,.0f} megohm.")
        return None
    return value


def choose_dc_type(purpose: str, principle: str, ratio: str) -> str | None:
    """Choose the type from what a design is; None for one whose windings nobody can tell from that.

    1:1 current baluns and chokes carry each wire through; two-line 4:1 current baluns, voltage baluns and
    autotransformer ununs join all terminals (trade practice, no source).
    """
    if purpose == "unun" or principle == "voltage":
        return "all_joined"
    if principle == "current" or purpose == "choke":
        return {"1:1": "current_1_1", "4:1": "all_joined"}.get(ratio)
    return None
