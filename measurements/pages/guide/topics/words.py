"""Guide page: the words of the trade, one sentence each."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Table
from measurements.pages.guide.topics.guide_page import GuidePage, Part

_DEVICES = (
    ("balun", "joins a balanced antenna to an unbalanced line"),
    ("unun", "changes the impedance between two unbalanced sides"),
    ("choke", "holds back the current on the outside of a line"),
    ("current balun", "keeps the currents of both halves equal; it chokes"),
    ("voltage balun", "keeps the voltages of both halves equal; it does not choke"),
    ("ratio", "of impedances: 4:1 makes 200 ohm look like 50"),
    ("mix", "the ferrite of a core, by its catalogue number"),
)
_TERMINALS = (
    ("C", "centre of the coax connector"),
    ("S, shell", "the outside of the device's connector; the ports of an analyser have shields"),
    ("A, B of a 1:1", "A is joined to C, B to S, each through one wire"),
    ("A, B of a 4:1 of two lines", "the two ends of the series side; either may be called A"),
    ("A, B of a voltage balun", "the two ends of the winding, either side of its middle"),
    ("A, B of an unun", "A is the high end, B is the shell"),
)
_FIGURES = (
    ("common mode", "the current that flows one way on both wires"),
    ("rejection", "how far below a plain wire the signal is, in dB; always with its ohms"),
    ("SWR", "how far an impedance is from 50 ohm: 1 is perfect"),
    ("return loss", "how far below the sent signal the returned one is, in dB"),
    ("insertion loss", "what goes in and does not come out, in dB"),
    ("heat", "the part of it that warms the device"),
    ("too close to call", "nearer to the limit than the measurement can tell; an answer, and no verdict"),
    ("uncertainty", "so far the truth may lie from the figure, in 95 of 100 cases"),
)
_WORK = (
    ("jig", "everything between analyser and device"),
    ("floor", "what the open jig lets through: nothing better can be read"),
    ("sweep", "one measurement over frequency"),
    ("reading", "one value read off a screen or a meter"),
    ("jumper", "two short wires in place of the device"),
    ("commissioning", "the tests of the first day, which later ones are compared with"),
    ("check standard", "one rugged device, swept at every night: does the bench still read what it read?"),
    ("out of control", "a check standard beyond its limits: jig or analyser, or itself, has changed"),
    ("serviceable", "its own tests and inspection are good and not too old"),
    ("evidence", "results of a design without names"),
)
WORDS = GuidePage(
    "words",
    "Words",
    "What does that word mean?",
    "One word for one thing, here and on every page.",
    tuple(
        Part(title, tables=(Table(title, ("Word", "Meaning"), rows),))
        for title, rows in (
            ("Devices", _DEVICES),
            ("Terminals", _TERMINALS),
            ("Figures", _FIGURES),
            ("Work", _WORK),
        )
    ),
)
