"""The finished drawings, found by the file they belong to or by their own file name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256

from measurements.fitness.checklist import CHECKLIST_ITEMS, ITEMS_BY_CODE
from measurements.pages.guide.drawings import (
    calibration,
    inspection,
    jig,
    ohmmeter,
    one_port,
    three_port,
    two_port,
    windings,
)
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.svg import write_svg

# What every drawing shows: which file of which method it belongs to, its title, and the words that say it.
#
# The words describe the wiring completely, so that it can be wired without seeing the drawing.


@dataclass(frozen=True)
class Sketch:
    """What is drawn, before it is drawn. words: the alternative text."""

    title: str
    scene: Callable[[], Scene]
    words: str


_UNBALANCED = (
    "The device's centre terminal goes to the centre of the analyser's port 1 and its shell terminal to the "
    "shield of port 1."
)

_ON_PORT_2 = "Balanced terminal A goes to the centre of port 2 and terminal B to the shield of port 2."

_IDLE = "Port 2 of the analyser is not used."

_STRAP = "The shields of port 1 and port 2 are joined by a short strap."

_STRAIGHT = Sketch(
    "Straight through",
    two_port.draw_straight,
    f"{_UNBALANCED} {_ON_PORT_2} Nothing else joins the two ports.",
)

_STRAIGHT_TURNED = Sketch(
    "The device turned round",
    lambda: two_port.draw_straight(turned=True),
    "The device is turned round, the analyser stays. Balanced terminal A goes to the centre of port 1 and "
    "terminal B to the shield of port 1; the device's centre terminal goes to the centre of port 2 and its "
    "shell terminal to the shield of port 2.",
)

_FAR_LOAD = Sketch(
    "The far side in its load",
    one_port.draw_far_load,
    f"{_UNBALANCED} A resistor R = ratio × 50 Ω: 50, 200, 450 Ω for 1:1, 4:1, 9:1, lies across the "
    "balanced terminals A and "
    "B, and nothing "
    f"else is joined to them. {_IDLE}",
)

_THROUGH = Sketch(
    "The jig closed on itself",
    jig.draw_jig_closed,
    "No device. The clip on the centre of port 1 and the clip on the centre of port 2 of the analyser hold "
    f"each other: clips joined, nothing between. {_STRAP}",
)

_JIG = {
    "jig_through": _THROUGH,
    "jig_open": Sketch(
        "The jig with nothing attached",
        jig.draw_jig_open,
        "The device is taken out and nothing attached: the clip on the centre of port 1 and the clip on the "
        "centre of port 2 of the analyser stay where they hold the device, and do not touch. The shields of "
        "the ports stay joined.",
    ),
    "jig_short": Sketch(
        "The jig linked",
        jig.draw_jig_linked,
        "In the place of the device lies the shortest link between the clip on the centre of port 1 and the "
        "clip on the centre of port 2 of the analyser; the clips stay where they hold the device. The "
        "shields of the ports stay joined.",
    ),
}


def _pair(first: str, second: str) -> Sketch:
    return Sketch(
        f"{first.capitalize()} and {second} back to back",
        lambda: two_port.draw_back_to_back(first, second),
        f"The {first} has its centre terminal on the centre of port 1 and its shell terminal on the shield "
        f"of port 1 of the analyser. The {second} has its centre terminal on the centre of port 2 and its "
        "shell terminal on the shield of port 2. The high sides are joined with short wires: terminal A of "
        "one with A of the other, B with B. Nothing of the high sides touches a shield.",
    )


SKETCHES: dict[tuple[str, str | None], dict[str, Sketch]] = {
    ("calibration", None): {
        "open": Sketch(
            "Open",
            calibration.draw_calibration_open,
            "Clip 1 is on the centre of port 1 of the analyser, clip 2 on the shield of port 1. There is "
            "nothing "
            f"between them. {_IDLE}",
        ),
        "short": Sketch(
            "Short",
            calibration.draw_calibration_short,
            "Clip 1 is on the centre of port 1 of the analyser, clip 2 on the shield of port 1. One short "
            "wire joins "
            f"the two. {_IDLE}",
        ),
        "load": Sketch(
            "Load",
            calibration.draw_calibration_load,
            "Clip 1 is on the centre of port 1 of the analyser, clip 2 on the shield of port 1. A resistor "
            "of 50 ohm "
            f"lies between them: 50 Ω. {_IDLE}",
        ),
        "through": replace(_THROUGH, title="Through"),
    },
    ("dc", None): {
        "through": Sketch(
            "C to A",
            ohmmeter.draw_through_reading,
            "One lead of the ohmmeter is on the device's centre terminal, the other on terminal A. Its "
            "shell and terminal B stay free.",
        ),
        "across": Sketch(
            "C to S",
            ohmmeter.draw_across_reading,
            "One lead of the ohmmeter is on the device's centre terminal, the other on its shell terminal. "
            "Terminals A and B stay free.",
        ),
    },
    ("common_mode", None): {
        "sweep": Sketch(
            "Common mode",
            two_port.draw_common_mode,
            "Both terminals of the device's input side, centre and shell, are tied together and go to the "
            "centre of the analyser's port 1. Both terminals of its output side, A and B, are tied together "
            f"and go to the centre of port 2. Do not plug in. {_STRAP} The strap touches no "
            "terminal of the device: the "
            "shields joined, and the device in series between the centres.",
        ),
        "sweep_reversed": Sketch(
            "Common mode, the device turned round",
            lambda: two_port.draw_common_mode(turned=True),
            "The device is turned round, the analyser stays. Its output terminals A and B are tied together "
            "and go to the centre of port 1; its input terminals, centre and shell, are tied together and "
            f"go to the centre of port 2. Do not plug in. {_STRAP} The strap, which keeps "
            "the shields joined, touches no "
            "terminal of the device.",
        ),
        **_JIG,
    },
    ("load_match", None): {"sweep": _FAR_LOAD},
    ("insertion_loss", "direct"): {
        "sweep": _STRAIGHT,
        "sweep_reversed": _STRAIGHT_TURNED,
        "jig_through": _THROUGH,
    },
    ("insertion_loss", "renormalised"): {
        "sweep": _STRAIGHT,
        "sweep_reversed": _STRAIGHT_TURNED,
        "jig_through": _THROUGH,
    },
    ("insertion_loss", "series_resistor"): {
        "sweep": Sketch(
            "The series resistor",
            two_port.draw_series_resistor,
            f"{_UNBALANCED} A resistor Rs = (ratio − 1) × 50 ohm lies in series between balanced terminal A "
            "and the centre of port 2. Terminal B goes to the shield of port 2.",
        ),
        "jig_through": _THROUGH,
    },
    ("insertion_loss", "one_port"): {
        "far_open": Sketch(
            "The far side open",
            one_port.draw_far_open,
            f"{_UNBALANCED} The balanced terminals A and B are left open, with nothing attached. {_IDLE}",
        ),
        "far_short": Sketch(
            "The far side shorted",
            one_port.draw_far_short,
            f"{_UNBALANCED} A short link joins the balanced terminals A and B, and nothing else is joined to "
            f"them. {_IDLE}",
        ),
        "far_load": _FAR_LOAD,
    },
    ("insertion_loss", "back_to_back"): {
        "sweep": _pair("device 1", "device 2"),
        "sweep_reversed": _pair("device 2", "device 1"),
        "far_load": _FAR_LOAD,
        "jig_through": _THROUGH,
    },
    ("insertion_loss", "known_partner"): {
        "sweep": _pair("device", "trusted one"),
        "sweep_reversed": _pair("trusted one", "device"),
        "jig_through": _THROUGH,
    },
    ("insertion_loss", "pairs"): {
        "pair_ab": _pair("first", "second"),
        "pair_ac": _pair("first", "third"),
        "pair_bc": _pair("second", "third"),
    },
    ("balance", None): {
        "sweep": Sketch(
            "All three ports at once",
            three_port.draw_three_ports,
            f"{_UNBALANCED} Balanced terminal A goes to the centre of port 2 and terminal B to the centre "
            "of port 3 of the analyser. The shields of all three ports are joined at the device, and the "
            "device's shell terminal with them: shields joined.",
        ),
        "sweep_12": Sketch(
            "Port 1 to the first terminal",
            three_port.draw_first_terminal,
            f"{_UNBALANCED} Balanced terminal A goes to the centre of port 2. A resistor of "
            f"50 ohm lies between terminal B and the shields. {_STRAP}",
        ),
        "sweep_13": Sketch(
            "Port 1 to the second terminal",
            three_port.draw_second_terminal,
            f"{_UNBALANCED} Balanced terminal B goes to the centre of port 2. A resistor of "
            f"50 ohm lies between terminal A and the shields. {_STRAP}",
        ),
        "sweep_23": Sketch(
            "Terminal to terminal",
            three_port.draw_terminal_to_terminal,
            "Balanced terminal A of the device goes to the centre of the analyser's port 1 and terminal B to "
            "the centre of port 2. A resistor of 50 ohm lies between the device's centre and shell "
            f"terminals, and its shell terminal goes to the joined shields. {_STRAP}",
        ),
    },
    ("in_situ", None): {
        "sweep": Sketch(
            "Through the device",
            one_port.draw_through_device,
            f"At the feed point: {_UNBALANCED} Balanced terminals A and B go to the two legs of the antenna, "
            f"as in use. {_IDLE}",
        ),
        "sweep_bypassed": Sketch(
            "The device bypassed",
            one_port.draw_bypassed,
            "At the feed point, with the device taken out: a plain jumper of two short wires is in its "
            "place. One wire joins the centre of port 1 to leg 1 of the antenna, where terminal A was, the "
            f"other the shield of port 1 to leg 2. {_IDLE}",
        ),
    },
    ("winding", None): {
        "unun": Sketch(
            "Inside a 49:1",
            windings.draw_tapped_winding,
            "The device has one winding on one core: 12 turns above a tap and 2 turns below it. The tap "
            "goes to the "
            "centre of "
            "the 50 Ω side. The lower end goes to its shell and to terminal B. The upper end is "
            "terminal A: 2,450 Ω lie between A and B. A capacitor C may lie between centre and shell.",
        ),
        "voltage": Sketch(
            "Inside a 4:1 voltage balun",
            windings.draw_voltage_balun,
            "The device has two equal windings in series on one core. Winding 1 lies between the centre "
            "and the shell "
            "of the 50 Ω side, and its upper end is terminal A too. Winding 2 goes on from the shell to "
            "terminal B: 200 Ω lie between A and B.",
        ),
        "current": Sketch(
            "Inside a 4:1 current balun",
            windings.draw_current_balun,
            "The device has two lines, one through core 1 and one through core 2. At the 50 Ω side the "
            "first wires of "
            "both go "
            "to the centre and the second wires to the shell. At the other side the first wire of line 1 "
            "is terminal A, the second wire of line 1 is joined to the first wire of line 2, and the second "
            "wire of line 2 is terminal B: 200 Ω lie between A and B.",
        ),
    },
}

READINGS = Sketch(
    "A reading",
    jig.draw_screen,
    "The marker of the analyser stands on the curve; its two numbers are written down as frequency and "
    "value, here 7.1 MHz and 28.5 dB.",
)


@dataclass(frozen=True)
class Drawing:
    """A finished drawing. slug: its file name; digest: changes with the picture, for long caching."""

    slug: str
    title: str
    words: str
    svg: str
    digest: str


def list_drawing_files() -> list[tuple[str, str | None, str]]:
    """Return kind, method and role of every drawing of a file."""
    return [(kind, method, role) for (kind, method), found in SKETCHES.items() for role in found]


@cache
def get_drawing(kind: str, method: str | None, role: str) -> Drawing:
    """Return the drawing of one file of a test; KeyError where the contract knows no such file."""
    return _finish_drawing(_build_slug(kind, method, role), get_sketch(kind, method, role))


@cache
def get_reading_drawing() -> Drawing:
    """Return the drawing of a reading, which belongs to no file."""
    return _finish_drawing("reading", READINGS)


@cache
def find_drawing(slug: str) -> Drawing | None:
    """Return a drawing by its file name."""
    if slug == "reading":
        return get_reading_drawing()
    kind, _, item = slug.partition(".")
    if kind == "inspection":
        return get_inspection_picture(item) if item in ITEMS_BY_CODE else None
    names = {_build_slug(*key): key for key in list_drawing_files()}
    return get_drawing(*names[slug]) if slug in names else None


@cache
def get_inspection_picture(code: str) -> Drawing:
    """Return the picture of an item of the check list: good, and what to look for. KeyError without one."""
    item = ITEMS_BY_CODE[code]
    svg, words = inspection.write_inspection_picture(code, item.title, item.look)
    return Drawing(f"inspection.{code}", item.title, words, svg, sha256(svg.encode()).hexdigest()[:12])


def list_inspection_pictures() -> list[Drawing]:
    """Return the pictures of the whole check list, in its order."""
    return [get_inspection_picture(item.code) for item in CHECKLIST_ITEMS]


def get_sketch(kind: str, method: str | None, role: str) -> Sketch:
    """Return the same before it is drawn."""
    return SKETCHES[kind, method][role]


def _build_slug(kind: str, method: str | None, role: str) -> str:
    return ".".join(part for part in (kind, method, role) if part)


def _finish_drawing(slug: str, found: Sketch) -> Drawing:
    svg = write_svg(found.scene(), found.title, found.words)
    return Drawing(slug, found.title, found.words, svg, sha256(svg.encode()).hexdigest()[:12])
