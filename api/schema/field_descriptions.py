"""Sentences for fields that many components share; one that a serializer gives itself goes before them.

`Component.field` goes before `field`. A field without a sentence fails
`tests/api/schema/test_complete_description.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_FILES = {
    "sweep": "The sweep of the test: Touchstone or CSV.",
    "sweep_reversed": "The same wiring with the device turned round; the two merge into a full two-port.",
    "jig_through": "The jig closed on itself.",
    "jig_open": "The jig with nothing attached.",
    "jig_short": "The jig with its clips linked.",
    "far_open": "The near side with the far side open.",
    "far_short": "The near side with the far side shorted.",
    "far_load": "The near side with the far side in its nominal load.",
    "pair_ab": "Devices a and b, back to back.",
    "pair_ac": "Devices a and c, back to back.",
    "pair_bc": "Devices b and c, back to back.",
    "sweep_12": "Ports 1 and 2 of the device, the third in its termination.",
    "sweep_13": "Ports 1 and 3 of the device, the second in its termination.",
    "sweep_23": "Ports 2 and 3 of the device, the first in its termination.",
    "sweep_bypassed": "The feed line with the device bypassed.",
    "first_through": "At commissioning: the feed line through the device.",
    "first_bypassed": "At commissioning: the feed line with the device bypassed.",
    "IntakeFormRequest.sweep": "A sweep that the manifest names; any number of them.",
}

_TIMES = {
    "made_at": "When it was made, UTC.",
    "fetched_at": "When this group fetched it, UTC.",
    "recorded_at": "When it was stored, UTC.",
    "watched_at": "Since when it is watched, UTC.",
    "added_at": "When it was added.",
    "excluded_at": "When a steward left it out; null otherwise.",
    "reviewed_at": "When a steward looked at it; null otherwise.",
    "registered_at": "When it was registered, UTC.",
    "opened_at": "When the night was opened, UTC.",
    "closed_at": "When the night was closed, UTC; null while it is open.",
    "measured_on": "Day of the measurement.",
    "inspected_on": "Day of the inspection.",
    "held_on": "Day of the night.",
    "built_on": "Day on which it was built; null where nobody knows.",
    "retired_on": "Day on which it was retired; null while it is in use.",
    "valid_from": "First day on which this allocation holds.",
}

_FIGURES = {
    "re": "Real part, in the unit that the field's name ends in.",
    "im": "Imaginary part, in the same unit.",
    "freq_hz": "The frequencies of the curves, lowest first.",
    "frequency_hz": "Frequency of this point.",
    "start_hz": "Lower edge.",
    "stop_hz": "Upper edge.",
    "benchmark_db": "Rejection that a common-mode test is held against; the house's where it is left out.",
    "insulation_mohm": "Insulation as read when dry, in megohm.",
    "insulation_wet_mohm": "Insulation as read when wet, in megohm.",
    "impedance_centre_ohm": "Common-mode impedance at the centre of the band.",
    "input_centre_ohm": "Input impedance at the centre of the band.",
    "median": "Half of the devices lie below, at each frequency; null where it may not be shown.",
    "p10": "One in ten lies below, at each frequency; null where it may not be shown.",
    "p90": "Nine in ten lie below, at each frequency; null where it may not be shown.",
    "points": "Measured points.",
    "ports": "Ports of the file.",
    "turns": "Passes through the core.",
    "stacked": "Cores stacked into one.",
    "test_interval_days": "Days after which a test is due again.",
    "inspection_interval_days": "Days after which an inspection is due again.",
}

_THINGS = {
    "advice": "What would make the jig better, a sentence each.",
    "answer": "`one` mix fits, several fit (`cannot_tell`), or `none_fits`.",
    "band": "Name of the band, such as `40m`.",
    "bands": "One entry per band.",
    "PredictSentRequest.bands": "Names of bands, such as `40m`; all of the region where they are left out.",
    "baseline": "The test of its commissioning, which changes are held against.",
    "beyond_allowed": "Whether the change is larger than the figures' uncertainty lets one believe is none.",
    "calibrated": "Whether the analyser was calibrated at the clips; null where nobody said.",
    "cautions": "What to keep in mind, a sentence each.",
    "change": "What has changed since commissioning.",
    "code": "Code of the cause.",
    "contributors": "Who came to the night.",
    "cores": "The cores of the recipe.",
    "coverage": "How far the sweep covers the band; only `full` and `interpolated` count as evidence.",
    "design": "Key of the design.",
    "device_count": "Devices that were brought.",
    "devices": "Devices that were brought.",
    "errors": "What to mend, field by field; at most 20.",
    "expected": "What the type of the device lets one expect; null where it says nothing.",
    "files": "A line per file.",
    "flags": "What takes a verdict away or asks for attention.",
    "good_enough": "Whether the jig's floor lies far enough above the benchmark; null: not swept.",
    "inputs": "The files that the figures were computed from.",
    "instrument": "The analyser that was used.",
    "intakes": "The intakes of the night.",
    "is_guest": "Whether this is a guest without an account.",
    "item": "What was looked at.",
    "jig_files": "Sweeps of the night's jig.",
    "kind": "Which of the six tests.",
    "near": "Designs with evidence that are built most alike.",
    "newest": "The newest tests of the device on this night.",
    "note": "What was seen, in words.",
    "notes": "Notes on the night.",
    "number": "Number of the release, counted from 1.",
    "origin": "Who built it.",
    "passed_over": "What was left out, and why.",
    "purpose": "What the design is for.",
    "refused": "Files that were refused.",
    "results": "The rows.",
    "role": "Which sweep of the jig.",
    "s11": "Whether reflection at port 1 was measured.",
    "s12": "Whether transmission from port 2 to port 1 was measured.",
    "s21": "Whether transmission from port 1 to port 2 was measured.",
    "s22": "Whether reflection at port 2 was measured.",
    "shape": "Shape of the core.",
    "state": "State of the item.",
    "Intake.state": "How far the intake has come.",
    "IntakeSummary.state": "How far the intake has come.",
    "IntakeFile.state": "What has become of the file.",
    "Service.state": "What the device's own tests and inspections support.",
    "status": "The HTTP status.",
    "style": "How the winding is laid.",
    "sweeps": "The files of the test.",
    "swept": "Which sweeps of the jig there are.",
    "test_count": "Tests that were made.",
    "title": "Title in words.",
    "total": "Files in all.",
    "whose": "Whose repeatability it is: the owner's own, the group's, or none known.",
}

_CHECKS = {
    "checked_on": "Day of the newest check; null before the first.",
    "check_through": "A sweep of the through, after the calibration.",
    "check_line": "A sweep of an open or short that the calibration did not use, at the end of a line.",
    "check_load": "A sweep of a load that the calibration did not use.",
    "figure": "Name of the figure.",
    "sessions": "Sessions behind it.",
    "reference_sessions": "Sessions that it is held against.",
    "marked_at": "When the device became a check standard, UTC.",
    "counts_from": "From when its sessions count; null: all of them.",
    "ended_at": "When it ended, UTC; null while it lasts.",
    "charts": "One control chart per figure and band.",
    "offsets": "How far benches or analysers lie from each other.",
    "holds": "Days and nights whose tests wait.",
}

SENTENCES: Mapping[str, str] = {**_CHECKS, **_FILES, **_TIMES, **_FIGURES, **_THINGS}

PARAMETERS: Mapping[str, str] = {
    "format": "The form of the reply; it goes before the Accept header.",
    "id": "Key of the thing, as in its `id`.",
    "number": "Number of the release.",
    "name": "Name of the file, as the release lists it.",
    "role": "The name under which the file was sent, such as `sweep`.",
    "limit": "Rows at most.",
    "purpose": "What the design is for.",
    "principle": "How a balun works.",
    "style": "How the winding is laid.",
    "turns_min": "Fewest passes through the core.",
    "turns_max": "Most passes through the core.",
}


def describe_fields(component: str, properties: Mapping[str, Any]) -> None:
    """Give each field of a component that has no sentence the shared one, in place."""
    for name, field in properties.items():
        sentence = SENTENCES.get(f"{component}.{name}", SENTENCES.get(name))
        if sentence is not None and "$ref" not in field:
            field.setdefault("description", sentence)


def describe_parameter(parameter: dict[str, Any]) -> None:
    """Give a parameter that has no sentence the shared one, in place."""
    if parameter["name"] in PARAMETERS:
        parameter.setdefault("description", PARAMETERS[parameter["name"]])
