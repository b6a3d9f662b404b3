"""What comes with a test: its files by role and its settings, as typed texts made into values."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from measurements.errors import BenchnightError, ErrorCollector, check_name_count
from measurements.rf.analyser import parse_analyser
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.services.uploads.dc_settings import (
    DC_SETTING_NAMES,
    DcSettings,
    choose_dc_type,
    parse_dc_settings,
)

KINDS = ("common_mode", "load_match", "insertion_loss", "balance", "in_situ", "dc")
METHODS = (
    "direct",
    "renormalised",
    "series_resistor",
    "one_port",
    "back_to_back",
    "known_partner",
    "pairs",
)
ROLES = (
    "sweep",
    "sweep_reversed",
    "jig_through",
    "jig_open",
    "jig_short",
    "far_open",
    "far_short",
    "far_load",
    "sweep_12",
    "sweep_13",
    "sweep_23",
    "sweep_bypassed",
    "first_through",
    "first_bypassed",
)
_ANALYSER_KEY = re.compile(r"[a-z0-9]{12}")
PAIR_ROLE = re.compile(r"^pair_[a-z][a-z]$")
SETTING_NAMES = (
    "kind",
    "method",
    "ratio",
    "load_ohm",
    "series_ohm",
    "calibrated",
    "benchmark_db",
    "region",
    "partner",
    "antenna_place",
    "antenna_bands",
    "readings",
    "analyser",
    "recipe_confirmed",
    "private",
    *DC_SETTING_NAMES,
)
BENCHMARK_RANGE_DB = (1.0, 80.0)
MOST_OHM = 100_000.0
MOST_PLACE = 60
MOST_BANDS = 30


@dataclass(frozen=True)
class Upload:
    """A file as it came: its name (kept private) and its bytes, unchanged."""

    name: str
    data: bytes


@dataclass(frozen=True)
class TestSettings:
    """How a test was wired and its limits; None where the upload gives none.

    analyser: the description of the instrument. analyser_key: a described one that the test names; its
    description is filled in before anything is computed (`services.analysers.descriptions`).
    recipe_confirmed: the owner answers for the recipe of the device. private: it never counts as evidence.
    Neither is part of what makes two tests the same.
    """

    __test__ = False

    kind: str
    method: str | None = None
    ratio: str = "1:1"
    load_ohm: float | None = None
    series_ohm: float | None = None
    calibrated: bool | None = None
    benchmark_db: float | None = None
    region: int | None = None
    partner: str | None = None
    antenna_place: str | None = None
    antenna_bands: tuple[str, ...] = ()
    readings: tuple[dict[str, Any], ...] = field(default=())
    analyser: dict[str, Any] | None = None
    analyser_key: str | None = None
    recipe_confirmed: bool = False
    private: bool = False
    dc: DcSettings | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the settings as stored and as part of what makes two uploads the same."""
        place = {} if self.antenna_place is None else {"antenna_place": self.antenna_place}
        instrument = {} if self.analyser is None else {"analyser": self.analyser}
        if self.analyser_key is not None:
            instrument = {**instrument, "analyser_key": self.analyser_key}
        return {
            "kind": self.kind,
            "method": self.method,
            "ratio": self.ratio,
            "load_ohm": self.load_ohm,
            "series_ohm": self.series_ohm,
            "calibrated": self.calibrated,
            "benchmark_db": self.benchmark_db,
            "region": self.region,
            "partner": self.partner,
            "readings": list(self.readings),
            **place,
            **instrument,
            **({"antenna_bands": list(self.antenna_bands)} if self.antenna_bands else {}),
            **({} if self.dc is None else {"dc": self.dc.as_json()}),
        }


def parse_settings(given: Mapping[str, Any]) -> TestSettings:
    """Parse texts (or JSON values) of the multipart fields into settings; an empty text counts as not given.

    Raises BenchnightError with every fault, fields as named in the contract.
    """
    check_name_count(given, SETTING_NAMES)
    typed = {key: value for key, value in given.items() if value not in (None, "")}
    faults = ErrorCollector("test.settings", "Some settings of the test need mending; see the list.")
    for key in typed:
        if key not in SETTING_NAMES:
            faults.add(
                key, "test.unknown_field", f"There is no such field; known: {', '.join(SETTING_NAMES)}."
            )
    names_analyser = bool(_ANALYSER_KEY.fullmatch(str(typed.get("analyser", ""))))
    settings = TestSettings(
        kind=_one_of(typed, "kind", KINDS, faults) or "",
        method=_one_of(typed, "method", METHODS, faults),
        ratio=_ratio(typed, faults),
        load_ohm=_number(typed, "load_ohm", 0.1, MOST_OHM, faults),
        series_ohm=_number(typed, "series_ohm", 0.1, MOST_OHM, faults),
        calibrated=_yes_or_no(typed, "calibrated", faults),
        benchmark_db=_number(typed, "benchmark_db", *BENCHMARK_RANGE_DB, faults),
        region=_region(typed, faults),
        partner=_partner(typed, faults),
        antenna_place=_antenna_place(typed, faults),
        antenna_bands=_antenna_bands(typed, faults),
        readings=_readings(typed, faults),
        analyser=None if names_analyser else _analyser(typed, faults),
        analyser_key=str(typed["analyser"]) if names_analyser else None,
        recipe_confirmed=_yes_or_no(typed, "recipe_confirmed", faults) or False,
        private=_yes_or_no(typed, "private", faults) or False,
        dc=parse_dc_settings(typed, str(typed.get("kind", "")), faults),
    )
    if "kind" not in typed:
        faults.add("kind", "test.kind_missing", f"Say what was tested; one of: {', '.join(KINDS)}.")
    if settings.method is not None and settings.kind not in ("", "insertion_loss"):
        faults.add("method", "test.method", "Only an insertion loss test has a choice of methods.")
    faults.raise_any()
    return settings


def fill_dc_type(settings: TestSettings, purpose: str, principle: str, ratio: str) -> TestSettings:
    """Fill in the type of an ohmmeter test from what the device is, where nobody said it."""
    if settings.dc is None or settings.dc.dc_type is not None:
        return settings
    return replace(settings, dc=replace(settings.dc, dc_type=choose_dc_type(purpose, principle, ratio)))


def check_upload_roles(uploads: Mapping[str, Upload]) -> None:
    """Refuse a file under a name that is no role.

    Raises BenchnightError naming the field.
    """
    for role in uploads:
        if role not in ROLES and not PAIR_ROLE.match(role):
            raise BenchnightError(
                "test.unknown_file",
                f"There is no file field of this name; known: {', '.join(ROLES)}, pair_ab, pair_ac, ...",
                field=role,
            )


def _one_of(
    typed: Mapping[str, Any], key: str, choices: tuple[str, ...], faults: ErrorCollector
) -> str | None:
    if key not in typed:
        return None
    if typed[key] in choices:
        return str(typed[key])
    faults.add(key, "test.choice", f"Choose one of: {', '.join(choices)}.")
    return None


def _ratio(typed: Mapping[str, Any], faults: ErrorCollector) -> str:
    try:
        return format_ratio(parse_ratio(str(typed.get("ratio", "1:1"))))
    except BenchnightError as error:
        faults.take(error)
        return "1:1"


def _number(
    typed: Mapping[str, Any], key: str, low: float, high: float, faults: ErrorCollector
) -> float | None:
    if key not in typed:
        return None
    try:
        number = (
            math.nan if isinstance(typed[key], bool) else float(str(typed[key]).strip().replace(",", "."))
        )
    except ValueError:
        number = math.nan
    if not low <= number <= high:  # also refuses NaN
        unit = "ohm" if key.endswith("_ohm") else "dB"
        faults.add(key, "test.number", f"Give a number from {low:g} to {high:,g} {unit}.")
        return None
    return number


def _yes_or_no(typed: Mapping[str, Any], key: str, faults: ErrorCollector) -> bool | None:
    if key not in typed:
        return None
    known = {"true": True, "1": True, "yes": True, "on": True, "false": False, "0": False, "no": False}
    answer = known.get(str(typed[key]).strip().lower())
    if answer is None:
        faults.add(key, "test.yes_or_no", "Give true or false.")
    return answer


def _region(typed: Mapping[str, Any], faults: ErrorCollector) -> int | None:
    if "region" not in typed:
        return None
    if str(typed["region"]).strip() in ("1", "2", "3"):
        return int(str(typed["region"]))
    faults.add("region", "test.region", "Give the ITU region: 1, 2 or 3.")
    return None


def _partner(typed: Mapping[str, Any], faults: ErrorCollector) -> str | None:
    """Return the id of a test of the trusted device; whose it is, is checked where it is used."""
    if "partner" not in typed:
        return None
    if re.fullmatch(r"[a-z0-9]{1,32}", str(typed["partner"])):
        return str(typed["partner"])
    faults.add("partner", "test.partner", "Give the id of an insertion loss test of the trusted device.")
    return None


def _antenna_place(typed: Mapping[str, Any], faults: ErrorCollector) -> str | None:
    """Return the owner's own name of an antenna; white space as one blank, upper and lower case alike."""
    if "antenna_place" not in typed:
        return None
    place = " ".join(str(typed["antenna_place"]).split()).casefold()
    if typed.get("kind") == "in_situ" and 0 < len(place) <= MOST_PLACE and place.isprintable():
        return place
    faults.add(
        "antenna_place",
        "test.antenna_place",
        f"Give a short name of the antenna, up to {MOST_PLACE} characters, with a test at the antenna only.",
    )
    return None


def _analyser(typed: Mapping[str, Any], faults: ErrorCollector) -> dict[str, Any] | None:
    """Return the description of the instrument as given, once it is one."""
    if "analyser" not in typed:
        return None
    given = typed["analyser"]
    if isinstance(given, str):
        try:
            given = json.loads(given, object_pairs_hook=_refuse_repeated_names)
        except (ValueError, RecursionError):
            given = None
    if not isinstance(given, dict):
        faults.add(
            "analyser",
            "analyser.description",
            'Name an analyser that you described, or describe it as JSON, such as {"paths": 1, '
            '"reflection_residual": 0.01, "port2_match_db": 26, "drift_db": 0.05, "noise": 0.001}.',
        )
        return None
    try:
        parse_analyser(given)
    except BenchnightError as error:
        faults.take(error)
    return given


def _antenna_bands(typed: Mapping[str, Any], faults: ErrorCollector) -> tuple[str, ...]:
    """Read the bands that an antenna is for, as a list or as text such as `40m, 20m`, in their order."""
    if "antenna_bands" not in typed:
        return ()
    given = typed["antenna_bands"]
    words = [str(each) for each in given] if isinstance(given, list) else str(given).split(",")
    names = tuple(dict.fromkeys(word.strip().casefold() for word in words if word.strip()))
    sound = 0 < len(names) <= MOST_BANDS and all(re.fullmatch(r"[0-9.]{1,5}c?m", name) for name in names)
    if typed.get("kind") == "in_situ" and sound:
        return names
    faults.add(
        "antenna_bands",
        "test.antenna_bands",
        "Name the bands that the antenna is for, such as 40m,20m, with a test at the antenna only.",
    )
    return ()


def _readings(typed: Mapping[str, Any], faults: ErrorCollector) -> tuple[dict[str, Any], ...]:
    """Return the list as given; its values are checked by the room that computes with them."""
    given = typed.get("readings", [])
    if isinstance(given, str):
        try:
            given = json.loads(
                given, parse_constant=lambda text: text, object_pairs_hook=_refuse_repeated_names
            )
        except (ValueError, RecursionError):
            given = None
    if isinstance(given, list) and all(isinstance(item, dict) for item in given):
        return tuple(given)
    faults.add("readings", "test.readings", 'Give a list such as [{"frequency_hz": 7100000, "value": 31.2}].')
    return ()


def _refuse_repeated_names(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object of JSON; one that names something twice means nothing certain."""
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError
    return made
