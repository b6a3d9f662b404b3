"""Every drawing shows the circuit that its test computes with, node by node.

The expected nodes are written down from the wiring rules, not from the drawings: common practice, no source,
except the asymmetrical circuit of common_mode (CISPR 17).
"""

from __future__ import annotations

import pytest

from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.drawings.nets import find_nets

PORT_1 = ("port 1 centre", "device centre"), ("port 1 shield", "device shell")
PORT_2 = ("port 2 centre", "device A"), ("port 2 shield", "device B")
TURNED = "device turned round"
STRAIGHT_TURNED = (
    ("port 1 centre", f"{TURNED} A"),
    ("port 1 shield", f"{TURNED} B"),
    ("port 2 centre", f"{TURNED} centre"),
    ("port 2 shield", f"{TURNED} shell"),
)
IDLE = (("port 2 centre",),)
LOADED = (*PORT_1, ("device A", "R 1"), ("device B", "R 2"), *IDLE)
SHIELDS = ("port 1 shield", "port 2 shield")
CLOSED = (("port 1 centre", "clip 1", "clip 2", "port 2 centre"), SHIELDS)


def pair(first: str, second: str) -> tuple[tuple[str, ...], ...]:
    return (
        ("port 1 centre", f"{first} centre"),
        ("port 1 shield", f"{first} shell"),
        (f"{first} A", f"{second} A"),
        (f"{first} B", f"{second} B"),
        ("port 2 centre", f"{second} centre"),
        ("port 2 shield", f"{second} shell"),
    )


CLIPS = (("port 1 centre", "clip 1"), ("port 1 shield", "clip 2"), *IDLE)
NODES: dict[str, tuple[tuple[str, ...], ...]] = {
    "calibration.open": CLIPS,
    "calibration.short": (("port 1 centre", "clip 1", "clip 2", "port 1 shield"), *IDLE),
    "calibration.load": (
        ("port 1 centre", "clip 1", "50 ohm 1"),
        ("port 1 shield", "clip 2", "50 ohm 2"),
        *IDLE,
    ),
    "calibration.through": CLOSED,
    "dc.through": (
        ("ohmmeter 1", "device centre"),
        ("ohmmeter 2", "device A"),
        ("device shell",),
        ("device B",),
    ),
    "dc.across": (
        ("ohmmeter 1", "device centre"),
        ("ohmmeter 2", "device shell"),
        ("device A",),
        ("device B",),
    ),
    "common_mode.sweep": (
        ("port 1 centre", "device centre", "device shell"),
        ("port 2 centre", "device A", "device B"),
        SHIELDS,
    ),
    "common_mode.sweep_reversed": (
        ("port 1 centre", f"{TURNED} A", f"{TURNED} B"),
        ("port 2 centre", f"{TURNED} centre", f"{TURNED} shell"),
        SHIELDS,
    ),
    "common_mode.jig_through": CLOSED,
    "common_mode.jig_open": (("port 1 centre", "clip 1"), ("port 2 centre", "clip 2"), SHIELDS),
    "common_mode.jig_short": CLOSED,
    "load_match.sweep": LOADED,
    "insertion_loss.direct.sweep": (*PORT_1, *PORT_2),
    "insertion_loss.direct.sweep_reversed": STRAIGHT_TURNED,
    "insertion_loss.direct.jig_through": CLOSED,
    "insertion_loss.renormalised.sweep": (*PORT_1, *PORT_2),
    "insertion_loss.renormalised.sweep_reversed": STRAIGHT_TURNED,
    "insertion_loss.renormalised.jig_through": CLOSED,
    "insertion_loss.series_resistor.sweep": (
        *PORT_1,
        ("device A", "Rs 1"),
        ("Rs 2", "port 2 centre"),
        ("device B", "port 2 shield"),
    ),
    "insertion_loss.series_resistor.jig_through": CLOSED,
    "insertion_loss.one_port.far_open": (*PORT_1, ("device A",), ("device B",), *IDLE),
    "insertion_loss.one_port.far_short": (*PORT_1, ("device A", "device B"), *IDLE),
    "insertion_loss.one_port.far_load": LOADED,
    "insertion_loss.back_to_back.sweep": pair("device 1", "device 2"),
    "insertion_loss.back_to_back.sweep_reversed": pair("device 2", "device 1"),
    "insertion_loss.back_to_back.far_load": LOADED,
    "insertion_loss.back_to_back.jig_through": CLOSED,
    "insertion_loss.known_partner.sweep": pair("device", "trusted one"),
    "insertion_loss.known_partner.sweep_reversed": pair("trusted one", "device"),
    "insertion_loss.known_partner.jig_through": CLOSED,
    "insertion_loss.pairs.pair_ab": pair("first", "second"),
    "insertion_loss.pairs.pair_ac": pair("first", "third"),
    "insertion_loss.pairs.pair_bc": pair("second", "third"),
    "balance.sweep": (
        PORT_1[0],
        ("port 2 centre", "device A"),
        ("port 3 centre", "device B"),
        ("port 1 shield", "port 2 shield", "port 3 shield", "device shell"),
    ),
    "balance.sweep_12": (
        PORT_1[0],
        ("port 2 centre", "device A"),
        ("device B", "50 ohm 1"),
        (*SHIELDS, "device shell", "50 ohm 2"),
    ),
    "balance.sweep_13": (
        PORT_1[0],
        ("port 2 centre", "device B"),
        ("device A", "50 ohm 1"),
        (*SHIELDS, "device shell", "50 ohm 2"),
    ),
    "balance.sweep_23": (
        ("port 1 centre", "device A"),
        ("port 2 centre", "device B"),
        ("device centre", "50 ohm 1"),
        (*SHIELDS, "device shell", "50 ohm 2"),
    ),
    "winding.unun": (("device centre",), ("device shell", "device B"), ("device A",)),
    "winding.voltage": (("device centre", "device A"), ("device shell",), ("device B",)),
    "winding.current": (("device centre",), ("device shell",), ("device A",), ("device B",)),
    "in_situ.sweep": (*PORT_1, ("device A", "antenna leg 1"), ("device B", "antenna leg 2"), *IDLE),
    "in_situ.sweep_bypassed": (
        ("port 1 centre", "antenna leg 1"),
        ("port 1 shield", "antenna leg 2"),
        *IDLE,
    ),
}


@pytest.mark.parametrize("key", catalogue.list_drawing_files(), ids=lambda key: ".".join(filter(None, key)))
def test_the_drawing_shows_this_circuit(key):
    scene = catalogue.get_sketch(*key).scene()
    expected = {frozenset(node) for node in NODES[catalogue.get_drawing(*key).slug]}
    assert find_nets(scene) == expected
    assert all(frozenset(pins) <= set(scene.pins) for pins in expected)


def test_no_circuit_is_written_down_for_nothing():
    assert set(NODES) == {catalogue.get_drawing(*key).slug for key in catalogue.list_drawing_files()}
