"""Turns against the bore: published packings, and both ways for the note."""

from __future__ import annotations

import pytest

from measurements.rf.diagnosis import winding_check
from measurements.rf.diagnosis.winding_check import CheckedCore, CheckedWinding

# The smallest known circle around n equal ones, in their diameters (circle packing in a circle, proven to 13;
# table of Kravitz 1967 and Graham et al. 1998, from memory).
TIGHTEST = {1: 1, 2: 2, 3: 2.1547, 4: 2.4142, 5: 2.7013, 7: 3.0, 8: 3.3048, 9: 3.6131, 10: 3.8130, 11: 3.9238,
            12: 4.0296, 13: 4.2361, 14: 4.3284, 15: 4.5214, 16: 4.6154, 17: 4.7920, 18: 4.8637}  # fmt: skip


@pytest.mark.parametrize(("count", "diameters"), TIGHTEST.items())
def test_the_rings_hold_nearly_what_the_tightest_known_packing_holds_and_never_more(count, diameters):
    room = winding_check.count_wires_in_bore(diameters * 10 * 1.00001, 10)
    assert count - 1 <= room <= count


def test_a_wire_thicker_than_the_bore_has_no_room():
    assert winding_check.count_wires_in_bore(4.0, 4.95) == 0


def test_turns_that_do_not_fit_are_named_with_what_does():
    # 2.4 inch toroid, bore 35.55 mm, RG-58 4.95 mm (cable tables): rings of 19, 12, 6, no centre left
    fits = winding_check.count_wires_in_bore(35.55, 4.95)
    toroid = (CheckedCore(bore_mm=35.55),)
    assert winding_check.flag_bore(toroid, CheckedWinding(fits, 1, 4.95)) == ()
    (found,) = winding_check.flag_bore(toroid, CheckedWinding(fits + 1, 1, 4.95))
    assert (found.code, found.severity) == ("turns_do_not_fit", "note")
    assert f"{fits + 1} turns" in found.message and "35.55 mm" in found.message


def test_wires_count_each_and_the_narrowest_bore_decides():
    cores = (CheckedCore(bore_mm=35.55), CheckedCore(bore_mm=13.2), CheckedCore())
    assert winding_check.flag_bore(cores, CheckedWinding(12, 1, 2.6)) == ()
    (found,) = winding_check.flag_bore(cores, CheckedWinding(12, 2, 2.6))
    assert "24 wires of 2.6 mm through a bore of 13.2 mm" in found.message


@pytest.mark.parametrize(
    ("cores", "winding"),
    [
        ((CheckedCore(),), CheckedWinding(50, 1, 5.0)),
        ((CheckedCore(bore_mm=7.0),), CheckedWinding(50, 2)),
        ((), CheckedWinding(50, 2, 5.0)),
    ],
)
def test_nothing_is_said_of_a_size_that_is_not_known(cores, winding):
    assert winding_check.flag_bore(cores, winding) == ()
