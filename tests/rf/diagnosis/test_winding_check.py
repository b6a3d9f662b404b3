"""Turns against the bore and inductance against A_L N^2: published values, and both ways for each note."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.diagnosis import winding_check
from measurements.rf.diagnosis.winding_check import CheckedCore, CheckedWinding
from measurements.rf.ferrites import ferrite_cores
from measurements.rf.ferrites.ferrite_cores import Permeability
from tests.rf.mix_tables import INITIAL, TOROID_MM, columns, mu, winding_ohm

# The smallest known circle around n equal ones, in their diameters (circle packing in a circle, proven to 13;
# table of Kravitz 1967 and Graham et al. 1998, from memory).
TIGHTEST = {1: 1, 2: 2, 3: 2.1547, 4: 2.4142, 5: 2.7013, 7: 3.0, 8: 3.3048, 9: 3.6131, 10: 3.8130, 11: 3.9238,
            12: 4.0296, 13: 4.2361, 14: 4.3284, 15: 4.5214, 16: 4.6154, 17: 4.7920, 18: 4.8637}  # fmt: skip


def core(mix: str, *, listed: bool = True, size_mm=TOROID_MM, **changes) -> CheckedCore:
    known = {
        "bore_mm": size_mm[1],
        "factor_m": ferrite_cores.toroid_factor_m(*size_mm),
        "mu_initial": INITIAL[mix],
        "permeability": Permeability(*columns(mix)) if listed else None,
    }
    return CheckedCore(**{**known, **changes})


def swept(mix, turns, start_hz=1e6, **changes):
    freq_hz = np.linspace(start_hz, 25e6, 401)
    return freq_hz, winding_ohm(mix, turns, freq_hz, **changes)


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


@pytest.mark.parametrize("mix", ["31", "43", "61", "73", "77"])
@pytest.mark.parametrize("scale", [0.85, 1.0, 1.15])
@pytest.mark.parametrize("start_hz", [1e6, 1.8e6, 3e6])
def test_the_right_count_is_silent_within_tolerance_wherever_the_sweep_starts(mix, scale, start_hz):
    freq_hz, z_ohm = swept(mix, 12, start_hz, scale=scale)
    assert winding_check.flag_inductance(core(mix), 12, freq_hz, z_ohm, 3e-12) == ()


def test_far_fewer_turns_are_named_with_the_count_that_fits():
    freq_hz, z_ohm = swept("43", 5)
    listed = core("43", a_l_h=1075e-9, tolerance=0.20)
    (found,) = winding_check.flag_inductance(listed, 12, freq_hz, z_ohm, 3e-12)
    # maker's A_L 1075 nH (from memory in the trade's reference) x 144 x mu'(1 to 1.24 MHz)/800, +-20 %
    share = np.median(mu("43", freq_hz[freq_hz <= 1.26e6]).real) / 800
    low, high = (1075e-9 * 144 * share * edge * 1e6 for edge in (0.8, 1.2))
    assert (found.code, found.severity) == ("inductance_off_recipe", "note")
    assert f"12 turns on this core give {low:.0f} uH to {high:.0f} uH" in found.message
    assert "would be 5.1 turns" in found.message  # A_L is 2 % below what mu_i and the size give


def test_another_mix_is_seen_in_the_inductance():
    freq_hz, z_ohm = swept("43", 12)
    (found,) = winding_check.flag_inductance(core("31"), 12, freq_hz, z_ohm, None)
    # 12 sqrt(865/1320), mu' of the two mixes about 1.1 MHz
    assert "check the mix" in found.message and "9.8 turns" in found.message


def test_a_stack_counts_core_by_core():
    freq_hz, z_ohm = swept("31", 11, size_mm=(61, 35.55, 25.4))
    assert winding_check.flag_inductance(core("31", stacked=2), 11, freq_hz, z_ohm, 3e-12) == ()
    assert winding_check.flag_inductance(core("31"), 11, freq_hz, z_ohm, 3e-12) != ()


def test_without_a_table_only_what_mu_i_can_tell_is_said():
    freq_hz, z_ohm = swept("77", 12, start_hz=3e6)
    bare = core("77", listed=False)  # at 3 MHz the material has fallen to a quarter: no fault of the winding
    assert winding_check.flag_inductance(bare, 12, freq_hz, z_ohm, 3e-12) == ()
    freq_hz, z_ohm = swept("43", 12)
    for turns in (16, 8):
        (found,) = winding_check.flag_inductance(core("43", listed=False), turns, freq_hz, z_ohm, 3e-12)
        assert "initial permeability" in found.message and "would be 12." in found.message


def test_flat_means_flat_in_every_published_table():
    for mix, initial in INITIAL.items():
        flat_hz = np.geomspace(columns(mix)[0][0], winding_check.FLAT_TO_HZ / initial, 50)
        ratio = mu(mix, flat_hz).real / initial
        assert ratio.min() > 0.80 and ratio.max() < 1.15


def test_above_its_resonance_a_material_tells_no_turns():
    assert winding_check.find_expected_inductance(core("77"), np.array([8e6, 9e6])) is None


def test_no_inductance_or_no_core_is_no_note():
    freq_hz, z_ohm = swept("43", 5)
    assert winding_check.flag_inductance(CheckedCore(), 12, freq_hz, z_ohm, None) == ()
    capacitive = 1 / (2j * np.pi * freq_hz * 5e-12)
    assert winding_check.flag_inductance(core("43"), 12, freq_hz, capacitive, None) == ()
    nothing = np.full(freq_hz.size, complex(np.nan, np.nan))
    assert winding_check.flag_inductance(core("43"), 12, freq_hz, nothing, None) == ()
