"""What can hurt someone, and the places where it is said (common practice, no source)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One caution: a few words to recognise it by, and the sentence."""

    title: str
    text: str


POWER = Caution(
    "A sweep says nothing about power",
    "A sweep at milliwatts proves nothing about power: no power rating follows from anything shown here.",
)
ANTENNA = Caution(
    "Before an antenna lead meets the analyser",
    "Disconnect the antenna lead from the transmitter and discharge it to ground first. Never measure with a "
    "thunderstorm anywhere near.",
)
MAST = Caution(
    "Power lines",
    "Keep masts and wires clear of power lines by more than their fall, in every direction.",
)
HEAT = Caution(
    "High voltage and heat",
    "A transmitting balun can carry hundreds of volts and become hot enough to burn you or to lose its "
    "ferrite (the Curie point of some mixes is near 130 °C). Switch the transmitter off and let it cool "
    "before touching it.",
)
CODES = Caution(
    "Local rules",
    "RF exposure, electrical work and tower work follow local codes and licensed practice.",
)

BENCH = (POWER,)
AT_NIGHT = (POWER, ANTENNA, HEAT)
AT_ANTENNA = (ANTENNA, MAST, HEAT, CODES, POWER)
AT_DEVICE = (HEAT, ANTENNA, MAST)
AFTER_STORM = (ANTENNA, MAST, HEAT)
ALL_CAUTIONS = (POWER, ANTENNA, MAST, HEAT, CODES)


def list_cautions_for_kind(kind: str) -> tuple[Caution, ...]:
    """The cautions that belong beside a test of this kind."""
    return AT_ANTENNA if kind == "in_situ" else BENCH
