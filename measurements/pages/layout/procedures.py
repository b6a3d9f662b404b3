"""The table behind the upload form: the needs of each kind and method of test, in the form's order.

A new method is a row here; forms, pages and the guide read the table.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class FileField:
    """One file of a test. role: its name in the contract. required: the test cannot be computed without."""

    role: str
    label: str
    help: str
    required: bool = True


@dataclass(frozen=True)
class Procedure:
    """One way to make a test. settings: names of `SETTINGS` that it needs."""

    kind: str
    method: str | None
    title: str
    question: str
    files: tuple[FileField, ...]
    settings: tuple[str, ...] = ()
    also: str = ""

    @property
    def key(self) -> str:
        return f"{self.kind}.{self.method}" if self.method else self.kind

    @property
    def main_files(self) -> tuple[FileField, ...]:
        """List the files that the form shows open; jig sweeps are folded away."""
        return tuple(each for each in self.files if not each.role.startswith("jig_"))

    @property
    def jig_files(self) -> tuple[FileField, ...]:
        return tuple(each for each in self.files if each.role.startswith("jig_"))


@dataclass(frozen=True)
class Setting:
    """One number that the form needs beside the files."""

    name: str
    label: str
    help: str
    unit: str
    shape: str = "number"  # or "partner": an own test; "readings": typed lines; "text": a name


SETTINGS: dict[str, Setting] = {
    "load_ohm": Setting(
        "load_ohm",
        "Load resistor, as measured",
        "Measure it on a meter: 47 ohm in place of 50 is an SWR of 1.06 by itself. Leave empty to assume the "
        "nominal value.",
        "ohm",
    ),
    "series_ohm": Setting(
        "series_ohm",
        "Series resistor, as measured",
        "Nominally (ratio − 1) × 50 ohm: 150 ohm for 4:1, 400 ohm for 9:1.",
        "ohm",
    ),
    "partner": Setting(
        "partner",
        "Test of the trusted device",
        "An insertion loss test that you stored of the partner; its loss is taken off the pair's.",
        "",
        "partner",
    ),
    "dc_readings": Setting(
        "dc_readings",
        "Readings",
        "One line per reading: two of C, S, A and B, and the ohms, or open. Such as C A 0.2 and C S open.",
        "",
        "dc",
    ),
    "dc_type": Setting(
        "dc_type",
        "Which type",
        "Leave it to the design of the device, unless its windings differ from the usual.",
        "",
        "dc_type",
    ),
    "dc_options": Setting(
        "dc_options", "What else is in it", "It changes what should read open.", "", "dc_options"
    ),
    "insulation_mohm": Setting(
        "insulation_mohm", "Insulation, dry", "Winding to case, as read. Leave empty if not read.", "megohm"
    ),
    "insulation_wet_mohm": Setting(
        "insulation_wet_mohm", "Insulation, wet outside", "The same with the outside wet.", "megohm"
    ),
    "antenna_place": Setting(
        "antenna_place",
        "Which antenna",
        "Your own name of this feed point, such as long dipole. The first test under a name is its "
        "commissioning; later ones are compared with it. It is never published.",
        "",
        "text",
    ),
    "antenna_bands": Setting(
        "antenna_bands",
        "Bands that the antenna is for",
        "Such as 40m, 20m: the test is judged on these alone. Left empty it shows figures and no finding.",
        "",
        "text",
    ),
    "readings": Setting(
        "readings",
        "Readings, in place of a file",
        "If no file could be saved: one line per reading, frequency in MHz and the value, such as 7.1 31.2. "
        "Readings stay apart and never count as evidence.",
        "",
        "readings",
    ),
}

_TURNED = FileField(
    "sweep_reversed",
    "The same with the device turned round",
    "Most hobby analysers measure one direction only. A second sweep the other way makes a full two-port.",
    required=False,
)
_THROUGH = FileField(
    "jig_through",
    "Jig closed on itself",
    "Clips joined, nothing between: S21 is divided by it, and its S11 takes out the match of port 2.",
    required=False,
)
_JIG = (
    _THROUGH,
    FileField(
        "jig_open", "Jig with nothing attached", "Shows how much this jig can show at all.", required=False
    ),
    FileField("jig_short", "Jig linked", "The shortest link where the device would be.", required=False),
)

PROCEDURES: tuple[Procedure, ...] = (
    Procedure(
        "common_mode",
        None,
        "Common mode",
        "Does it choke?",
        (FileField("sweep", "Sweep (S21)", "Touchstone or CSV, 1 to 30 MHz or more."), _TURNED, *_JIG),
        ("readings",),
    ),
    Procedure(
        "load_match",
        None,
        "Load match",
        "Does it present 50 ohm?",
        (FileField("sweep", "Sweep (S11)", "Unbalanced side, with the load resistor across the far side."),),
        ("load_ohm", "readings"),
    ),
    Procedure(
        "insertion_loss",
        "direct",
        "Straight through",
        "1:1 devices, both sides 50 ohm",
        (FileField("sweep", "Sweep (S11 and S21)", "In at one side, out at the other."), _TURNED, _THROUGH),
        ("readings",),
    ),
    Procedure(
        "insertion_loss",
        "renormalised",
        "Full two-port",
        "Any ratio, swept both ways",
        (
            FileField("sweep", "Sweep", "Unbalanced side on port 1."),
            FileField(
                "sweep_reversed",
                "The same with the device turned round",
                "Not needed if your analyser measures all four S-parameters at once.",
                required=False,
            ),
            _THROUGH,
        ),
    ),
    Procedure(
        "insertion_loss",
        "series_resistor",
        "Series resistor",
        "Any ratio, one device, one resistor",
        (
            FileField("sweep", "Sweep (S11 and S21)", "The resistor between the far terminal and port 2."),
            _THROUGH,
        ),
        ("series_ohm",),
    ),
    Procedure(
        "insertion_loss",
        "one_port",
        "One port",
        "Any ratio, S11 only, three sweeps",
        (
            FileField("far_open", "Far side open", "S11 of the unbalanced side."),
            FileField("far_short", "Far side shorted", "The shortest link you can make."),
            FileField("far_load", "Far side in its load", "The resistor of ratio × 50 ohm."),
        ),
        ("load_ohm",),
    ),
    Procedure(
        "insertion_loss",
        "known_partner",
        "Known partner",
        "Back to back with a device you trust",
        (FileField("sweep", "Sweep of the pair", "S11 and S21, high sides joined."), _TURNED, _THROUGH),
        ("partner",),
    ),
    Procedure(
        "insertion_loss",
        "back_to_back",
        "Back to back",
        "Two devices alike, high sides joined",
        (
            FileField(
                "sweep",
                "Sweep of the pair",
                "S11 and S21: with both, one device's own loss follows, not half the pair's.",
            ),
            _TURNED,
            FileField(
                "far_load",
                "One of them in its load",
                "S11 of one device with ratio × 50 ohm on its far side: then nothing is assumed.",
                required=False,
            ),
            _THROUGH,
        ),
        ("load_ohm",),
    ),
    Procedure(
        "insertion_loss",
        "pairs",
        "Three in pairs",
        "Three devices, every pair back to back",
        (
            FileField("pair_ab", "First with second", "High sides joined."),
            FileField("pair_ac", "First with third", "High sides joined."),
            FileField("pair_bc", "Second with third", "High sides joined."),
        ),
        also="The first device is the one this test is filed under.",
    ),
    Procedure(
        "balance",
        None,
        "Balance",
        "Are the two halves equal and opposite?",
        (
            FileField("sweep", "One three-port file", "If your analyser has three ports.", required=False),
            FileField(
                "sweep_12", "Port 1 to first terminal", "Second terminal in 50 ohm to shield.", required=False
            ),
            FileField(
                "sweep_13", "Port 1 to second terminal", "First terminal in 50 ohm to shield.", required=False
            ),
            FileField(
                "sweep_23", "Terminal to terminal", "Port 1 in 50 ohm; gives the loss too.", required=False
            ),
        ),
        also="Give the three-port file, or the sweeps to the first and to the second terminal.",
    ),
    Procedure(
        "in_situ",
        None,
        "At the antenna",
        "Is it the device or the antenna?",
        (
            FileField("sweep", "Through the device", "S11 at the feed point."),
            FileField("sweep_bypassed", "Device bypassed", "The same with a plain jumper in its place."),
        ),
        ("antenna_place", "antenna_bands"),
    ),
    Procedure(
        "dc",
        None,
        "Ohmmeter",
        "Does it conduct where it should?",
        (),
        ("dc_readings", "dc_type", "dc_options", "insulation_mohm", "insulation_wet_mohm"),
        also="No file: type the readings below.",
    ),
)

PROCEDURES_BY_KEY = {procedure.key: procedure for procedure in PROCEDURES}


ROLE_LABELS = {
    each.role: each.label for procedure in PROCEDURES for each in procedure.files if "_" in each.role
}
_ROLE = re.compile("|".join(sorted(ROLE_LABELS, key=len, reverse=True)))


def translate_roles(sentence: str) -> str:
    """Return a sentence with the file names of the API replaced by what the form calls them."""
    if sentence.startswith("sweep "):
        sentence = f"The {sentence}"
    return _ROLE.sub(lambda role: f"“{ROLE_LABELS[role.group()]}”", sentence)


def find_procedure(kind: str, method: str | None) -> Procedure | None:
    """Return the procedure of a kind; for insertion loss, of its method too."""
    return PROCEDURES_BY_KEY.get(f"{kind}.{method}" if method else kind)
