"""Flags: warnings beside a figure so that nobody believes it blindly.

A flag has a stable code, a severity and a sentence that says what to do. Every code is in
`flag_catalogue.CATALOGUE` with its sentence; `flag()` fills the sentence in, so no code can be
raised that is not documented.

Severity: `refuse` (nothing was computed; raised as an error instead), `exclude` (kept and shown
to its owner, left out of evidence), `note` (counts, but read the sentence).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from measurements.rf.flags_of_wrong_input import WRONG_INPUT_SENTENCES

# Every flag there is: code, severity and the sentence shown with it.
#
# {names} in a sentence are filled in where the flag is raised.


@dataclass(frozen=True)
class FlagEntry:
    """How severe a flag is, and the sentence that says what to do."""

    severity: Literal["refuse", "exclude", "note"]
    message: str


_SWEEP = {
    "not_passive": FlagEntry(
        "exclude",
        "{role} says that more power comes out than goes in (up to {excess_percent} % more at "
        "{at}). A balun or choke cannot do that: calibrate again at the ends of the leads and repeat the "
        "sweep.",
    ),
    "not_reciprocal": FlagEntry(
        "exclude",
        "In {role}, S12 and S21 differ by up to {difference} at {at}. A ferrite winding is the "
        "same both ways: check that nothing moved between the two directions and repeat the sweep.",
    ),
    "unmeasured_columns": FlagEntry(
        "note",
        "{role} holds no measurement of {columns}, and none was used. A second sweep with the device turned "
        "round supplies them: send it as sweep_reversed beside sweep.",
    ),
    "magnitude_only": FlagEntry(
        "note",
        "{role} holds magnitudes without phase, so there is no resistance, reactance or "
        "impedance. Save the sweep as Touchstone to get them.",
    ),
    "reference_converted": FlagEntry(
        "note",
        "{role} refers to {reference_ohm} ohm; it was converted to 50 ohm, which is exact.",
    ),
    "reference_not_50": FlagEntry(
        "exclude",
        "{role} refers to {reference_ohm} ohm and cannot be converted to 50 ohm without all "
        "four S-parameters. Its figures hold for {reference_ohm} ohm: repeat the sweep in a 50-ohm "
        "system.",
    ),
    "undefined_points": FlagEntry(
        "note",
        "At {count} points of the sweep {quantity} has no finite value ({reason}); such figures are left "
        "empty.",
    ),
    "uncalibrated": FlagEntry(
        "exclude",
        "This test was declared uncalibrated. It stays in your account and out of evidence: calibrate at "
        "the ends of the jig's leads and repeat it.",
    ),
    "calibration_unknown": FlagEntry(
        "note",
        "Nobody said whether the analyser was calibrated at the ends of the jig's leads. If it was, say so.",
    ),
    "same_sweep": FlagEntry(
        "exclude",
        "The same sweep is already stored as another test of the same owner or sender. It counts once: "
        "remove the test that it does not belong to.",
    ),
    "readings": FlagEntry(
        "exclude",
        "Readings typed in by hand, {count} in all: shown apart, never drawn as a curve and left out of "
        "evidence. Save the sweep as a file to have it counted.",
    ),
}

_BANDS = {
    "bands_not_covered": FlagEntry(
        "note",
        "The sweep covers nothing of {bands}; their figures are empty. Sweep 1 to 30 MHz, or to 54 MHz "
        "for 6 m.",
    ),
    "partial_band": FlagEntry(
        "note",
        "The sweep covers {covered_start} to {covered_stop} of this band only. {outcome} Sweep the whole "
        "band to have it judged.",
    ),
    "sparse_in_band": FlagEntry(
        "note",
        "Measured points in this band: {points}. Its figures are interpolated between neighbours; use more "
        "points or a narrower sweep.",
    ),
    "gap_over_band": FlagEntry(
        "exclude",
        "The measured points on either side of this band are more than an octave apart ({below} and "
        "{above}); what lies between is a guess. Use more points.",
    ),
}

_JIG = {
    "jig_limited": FlagEntry(
        "note",
        "{meaning} Within 10 dB of the open jig its stray capacitance makes a reading too low or too high.",
    ),
    "floor_unknown": FlagEntry(
        "note",
        "So much rejection may be the jig's own limit: without a sweep of the open jig nobody knows. Sweep "
        "it with nothing attached and send it as jig_open.",
    ),
    "jig_incomplete": FlagEntry(
        "note",
        "Compensation needs both jig_open and jig_short; {missing} is missing, so the figures are not "
        "compensated. Sweep the jig both ways.",
    ),
    "jig_span": FlagEntry(
        "note",
        "{role} covers {start} to {stop} and leaves bands of the test uncovered, so it was not "
        "used. Sweep the jig over the same range as the device.",
    ),
    "jig_narrower": FlagEntry(
        "note",
        "The jig was swept from {start} to {stop} only; what the device's sweep shows outside is left out.",
    ),
    "jig_through_poor": FlagEntry(
        "exclude",
        "The jig closed on itself loses up to {loss_db} dB ({at}); more than 0.5 dB is not taken for a jig. "
        "Calibrate at the ends of its leads, check its contacts and sweep it again.",
    ),
}

_WIRING = {
    "looks_like_through": FlagEntry(
        "exclude",
        "Less than 1 dB everywhere: that is a plain connection, not a choke. Tie both input terminals to "
        "the port-1 centre, both output terminals to the port-2 centre, join the shields and repeat; or "
        "file the sweep as insertion_loss.",
    ),
    "looks_open": FlagEntry(
        "exclude",
        "Hardly anything gets through anywhere: that is what a jig shows with nothing attached. Check the "
        "clips and repeat.",
    ),
    "looks_unterminated": FlagEntry(
        "exclude",
        "Nearly everything is reflected everywhere: the load resistor is missing, shorted or not "
        "connected. Check it and repeat.",
    ),
    "looks_like_insertion_loss": FlagEntry(
        "exclude",
        "A flat {loss_db} dB looks like an insertion-loss sweep filed as common_mode. File it as "
        "insertion_loss, or wire the device as a series impedance and repeat.",
    ),
    "looks_like_common_mode": FlagEntry(
        "exclude",
        "A loss of {loss_db} dB over most of the sweep looks like a common-mode sweep filed as "
        "insertion_loss. File it as common_mode, or check the wiring and repeat.",
    ),
    "load_off_nominal": FlagEntry(
        "note",
        "The load is {load_ohm} ohm where {nominal_ohm} ohm belongs; that alone is an SWR of "
        "{load_alone_swr}.",
    ),
    "load_far_from_nominal": FlagEntry(
        "exclude",
        "The load is {load_ohm} ohm where {nominal_ohm} ohm belongs; that alone is an SWR of "
        "{load_alone_swr}. Repeat with a load within 5 %, or correct the ratio.",
    ),
    "load_assumed": FlagEntry(
        "note",
        "No measured value of the load was given; {nominal_ohm} ohm is assumed. Measure the resistor and "
        "say so.",
    ),
}

_FIGURES = {
    "no_self_resonance": FlagEntry(
        "note",
        "The reactance does not pass from inductive to capacitive within this sweep: no self-resonance.",
    ),
    "no_inductance": FlagEntry(
        "note",
        "No inductance can be fitted: fewer than two points are inductive and well below resonance. Start "
        "the sweep lower.",
    ),
    "no_stray_capacitance": FlagEntry(
        "note",
        "No stray capacitance can be fitted above resonance within this sweep. Sweep higher to see it.",
    ),
    "benchmark_not_met": FlagEntry(
        "note",
        "The rejection meets the benchmark of {benchmark_db} dB nowhere in this sweep.",
    ),
    "no_split": FlagEntry(
        "note",
        "{reason} So the loss is not split into mismatch and heat.",
    ),
    "ratio_floor": FlagEntry(
        "note",
        "Measured straight through, even an ideal {ratio} device reads {floor_db} dB here, because it "
        "does not match the analyser. No verdict is passed: use renormalised, series_resistor, one_port "
        "or a pair.",
    ),
}

# Flags of single methods (pairs, mirror, in_situ ...) go here.
_METHODS: dict[str, FlagEntry] = {
    "halved_only": FlagEntry(
        "note",
        "Only half of the pair's loss can be given, which a poor pair's mismatches make wrong by 0.3 to 0.8 "
        "dB: {reason} Add a far_load sweep of one of the two devices.",
    ),
    "crossed_joint": FlagEntry(
        "note",
        "In {role} the polarity turns over: the two wires of the joint are crossed. It was taken "
        "into account; nothing needs to be repeated.",
    ),
    "impossible_gain": FlagEntry(
        "exclude",
        "By these sweeps the device gives out up to {size} more than it takes, which is beyond their "
        "uncertainty. No verdict. Check {check}, and repeat the sweep that is wrong.",
    ),
    "impossible_gain_in_band": FlagEntry(
        "exclude",
        "In this band the device seems to give out up to {size} more than it takes, which is beyond the "
        "uncertainty. No verdict here. Check {check}, and repeat the sweep that is wrong.",
    ),
    "negative_resistance": FlagEntry(
        "exclude",
        "By this sweep the device has a resistance of -{size}, which no choke has. No verdict. Check that "
        "the analyser was calibrated at the clips, with no cable or amplifier left in, and that the jig's "
        "files belong to this jig.",
    ),
    "negative_resistance_in_band": FlagEntry(
        "exclude",
        "In this band the device has a resistance of -{size}, which no choke has. No verdict here. Check "
        "the calibration at the clips and the jig's files.",
    ),
    "uncertainty_large": FlagEntry(
        "note",
        "On this analyser {method} knows the {quantity} to {uncertainty} at best in {bands}, too little to "
        "decide. {advice}.",
    ),
    "series_assumed": FlagEntry(
        "note",
        "No measured value of the series resistor was given; {nominal_ohm} ohm is assumed. Measure it and "
        "say so.",
    ),
    "series_off_nominal": FlagEntry(
        "note",
        "With this series resistor the device works into {load_ohm} ohm where {nominal_ohm} ohm belongs; "
        "its loss there is what is shown. Use a resistor within 5 %, or sweep a full two-port.",
    ),
    "pairs_disagree": FlagEntry(
        "note",
        "The pairs contradict each other by {residual_db} dB (rms): one joint was wrong or a device "
        "changed. Repeat the pairs that look odd.",
    ),
    "balance_no_loss": FlagEntry(
        "note",
        "No loss into the nominal load can be given: {missing} was not measured. Send an .s3p, or sweep_12, "
        "sweep_13 and sweep_23 with both directions measured.",
    ),
    "balance_reciprocal": FlagEntry(
        "note",
        "{columns} was not measured and is taken equal to its reverse, as it is in any device of wire and "
        "ferrite.",
    ),
    "balance_sweeps_disagree": FlagEntry(
        "note",
        "{parameter} differs by {difference} between {first} and {second}. The third terminal must be ended "
        "in 50 ohm in every sweep: check it and repeat.",
    ),
    "antenna_bands_missing": FlagEntry(
        "note",
        "Nobody said which bands the antenna is for, so there are figures and no finding. Give "
        "antenna_bands, such as 40m,20m.",
    ),
    "in_situ_needs_phase": FlagEntry(
        "note",
        "{roles} holds magnitudes without phase. An open device and a broken antenna then look alike, and "
        "the sweep of a jumper cannot be referred to another ratio. Save S11 as complex numbers (.s1p).",
    ),
    "dc_type_unknown": FlagEntry(
        "note",
        "Nobody said which type of device this is, so nothing is held against these readings. Give the "
        "type, or "
        "store the test with its device.",
    ),
    "dc_incomplete": FlagEntry("note", "Not read: {pairs}. Without them nothing is settled. Read them too."),
    "dc_open_hidden": FlagEntry(
        "note",
        "In this type every terminal conducts to every other, so an open winding does not show. Make a "
        "load-match "
        "test as well.",
    ),
    "dc_arrester": FlagEntry(
        "note",
        "With an arrester that conducts, readings that should be open are not judged. Take it out and read "
        "again.",
    ),
    "in_situ_loss_hidden": FlagEntry(
        "note",
        "The antenna alone reflects so little that a device with high loss would read the same. Measure the "
        "insertion loss on the bench if you suspect it.",
    ),
}

# Input that is not what it was filed as leaves a test out of evidence.
_WRONG_INPUT = {code: FlagEntry("exclude", sentence) for code, sentence in WRONG_INPUT_SENTENCES.items()}

# Raised beside a result, where the recipe of the device is known.
_RECIPE = {
    "turns_do_not_fit": FlagEntry(
        "note",
        "{turns} of this make put {passes} of {wire_mm} mm through a bore of {bore_mm} mm, which takes "
        "{room} of them laid side by side in rings from its wall inwards. Check the turns, the core and "
        "the conductor of the recipe.",
    ),
}

FLAG_CATALOGUE: dict[str, FlagEntry] = {
    **_SWEEP,
    **_BANDS,
    **_JIG,
    **_WIRING,
    **_FIGURES,
    **_METHODS,
    **_WRONG_INPUT,
    **_RECIPE,
}

# notes that somebody with an overview should see too: the sweeps of one test contradict each other
NOTES_FOR_REVIEW = frozenset({"pairs_disagree", "balance_sweeps_disagree", "series_off_nominal"})


def needs_review(flags: Iterable[Mapping[str, Any]]) -> bool:
    """Say whether a steward should look at a result with these flags: code and severity of each are read."""
    return any(
        flag["severity"] in ("exclude", "refuse") or flag["code"] in NOTES_FOR_REVIEW for flag in flags
    )


Severity = Literal["refuse", "exclude", "note"]


@dataclass(frozen=True)
class Flag:
    """One flag; `band` names the band it concerns, None the whole test."""

    code: str
    severity: Severity
    message: str
    band: str | None = None

    def as_dict(self) -> dict[str, str | None]:
        """Return the flag as a result carries it."""
        return {"code": self.code, "severity": self.severity, "message": self.message, "band": self.band}


def build_flag(code: str, *, band: str | None = None, **values: object) -> Flag:
    """Return the catalogue's flag `code`, its sentence filled in with `values`.

    Raises KeyError for a code that is not in the catalogue or a value that the sentence needs.
    """
    entry = FLAG_CATALOGUE[code]
    return Flag(code, entry.severity, entry.message.format(**values), band)


def format_megahertz(freq_hz: float) -> str:
    """Return a frequency for a sentence: 7.1 MHz."""
    return f"{freq_hz / 1e6:.6g} MHz"
