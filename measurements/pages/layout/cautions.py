"""What can hurt someone, and one table that says at which step each danger is (trade practice, trade.md 11).

A caution stands where its danger is and nowhere else: a sentence that stands everywhere is read nowhere.
The test
of the table writes the places of each danger down once more and compares both ways.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One caution: a few words to recognise it by, and the sentence."""

    title: str
    text: str


DOWNED_WIRES = Caution(
    "Downed wires",
    "Every downed wire, and anything that touches one, is live until the utility says otherwise. Stay "
    "away, keep "
    "others away and call.",
)
CLEARANCE = Caution(
    "Power lines",
    "Keep masts and wires clear of power lines by more than their fall plus 3 m (10 ft), in every direction.",
)
THUNDERSTORM = Caution(
    "No thunderstorm, no climb",
    "Never work on antennas in or before a thunderstorm. Nobody climbs who is not trained and equipped: "
    "lower the "
    "antenna instead.",
)
TRANSMITTERS = Caution(
    "Every transmitter off",
    "Disconnect the transmitter and every other one. Never transmit into an analyser, nor on a neighbouring "
    "antenna while an analyser is joined.",
)
DISCHARGE = Caution(
    "Discharge the antenna first",
    "Ground clip first, then an insulated lead, on both legs. The charge comes back within minutes in wind "
    "and "
    "snow; a bleeder of some 100 kilohm helps.",
)
ARRESTER = Caution(
    "Arresters", "An arrester may have failed shorted or leaky, and it may not protect you any more."
)
HEAT = Caution(
    "High voltage and heat",
    "A transmitting balun can carry hundreds of volts (49:1 at 100 W: 700 V peak), burns the skin by RF, "
    "and can "
    "become hot enough to burn you or to lose its permeability (Curie point near 130 °C for some mixes; it "
    "mostly "
    "recovers). Switch the transmitter off and let it cool.",
)
TENSION = Caution("Wires under tension", "A wire that lets go whips: eye protection, and nobody below.")
SPLINTERS = Caution("Ferrite splinters", "Ferrite is brittle and splinters like glass: eye protection.")
POWER = Caution(
    "A sweep says nothing about power",
    "A sweep at milliwatts proves nothing about power: no power rating follows from anything shown here.",
)
CODES = Caution(
    "Local rules",
    "RF exposure, electrical work and tower work follow local codes and licensed practice.",
)
ALL_CAUTIONS = (
    *(DOWNED_WIRES, CLEARANCE, THUNDERSTORM, TRANSMITTERS, DISCHARGE, ARRESTER),
    *(HEAT, TENSION, SPLINTERS, POWER, CODES),
)

_ON_ANTENNA = (THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE, TENSION, CODES)
_TAKEN_DOWN = (THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE, TENSION, HEAT)

# step or page -> its cautions, in the order in which the dangers come
CAUTIONS_BY_STEP: dict[str, tuple[Caution, ...]] = {
    # steps of the fault search
    "search.begin": (DOWNED_WIRES, THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE),
    "search.ground_look": (DOWNED_WIRES, CLEARANCE, THUNDERSTORM),
    "search.shack_sweep": (THUNDERSTORM, TRANSMITTERS, DISCHARGE),
    "search.line": (THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE),
    "search.line_parts": (THUNDERSTORM, TRANSMITTERS, DISCHARGE, ARRESTER),
    "search.inspection": (THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE, HEAT, TENSION, SPLINTERS),
    "search.bypass": _ON_ANTENNA,
    "search.dc": _TAKEN_DOWN,
    "search.load_test": _TAKEN_DOWN,
    "search.common_mode": _TAKEN_DOWN,
    "search.end": (HEAT, POWER),
    "search.danger": (DOWNED_WIRES, CLEARANCE, THUNDERSTORM),
    # kinds of test, at a form and beside a result
    "common_mode": (HEAT, SPLINTERS),
    "load_match": (HEAT, SPLINTERS),
    "insertion_loss": (HEAT, SPLINTERS, POWER),
    "balance": (HEAT, SPLINTERS),
    "in_situ": _ON_ANTENNA,
    "dc": (HEAT, TRANSMITTERS, DISCHARGE),
    # pages
    "inspect": (THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE, HEAT, TENSION, SPLINTERS),
    "due": (DOWNED_WIRES, THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE),
    "night": (HEAT, SPLINTERS),
    "design": (POWER,),
    "card": (POWER,),
    "report": (HEAT, POWER, CODES),
    "identify_core": (SPLINTERS,),
    # pages of the guide
    "guide": (),
    "guide.bench": (HEAT, SPLINTERS),
    "guide.flags": (),
    "guide.service": (HEAT, POWER),
    "guide.after_storm": (
        DOWNED_WIRES,
        CLEARANCE,
        THUNDERSTORM,
        TRANSMITTERS,
        DISCHARGE,
        ARRESTER,
        TENSION,
        CODES,
    ),
    "guide.first_choke": (HEAT, SPLINTERS),
    "guide.calibrating": (TRANSMITTERS,),
    "guide.feed_line": (THUNDERSTORM, CLEARANCE, TRANSMITTERS, DISCHARGE, ARRESTER),
    "guide.opening": (HEAT, SPLINTERS, TENSION, TRANSMITTERS, DISCHARGE),
    "guide.commissioning": (*_ON_ANTENNA, HEAT, POWER),
    "guide.check_standard": (),
    "guide.comparing": (POWER,),
    "guide.winding_unun": (HEAT, POWER, SPLINTERS),
    "guide.four_to_one": (HEAT, POWER, SPLINTERS),
    "guide.which_test": (POWER,),
    "guide.trusting": (),
    "guide.words": (),
}


def list_cautions(step: str) -> tuple[Caution, ...]:
    """List the cautions of a step or page. Raises KeyError for a step that the table does not know."""
    return CAUTIONS_BY_STEP[step]


def list_cautions_for_kind(kind: str) -> tuple[Caution, ...]:
    """List the cautions that belong beside a test of this kind."""
    return CAUTIONS_BY_STEP[kind]
