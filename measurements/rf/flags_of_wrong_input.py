"""The sentence of each flag on wrong input: each says what was seen and what to check.

{names} are filled in by the detector that raises the flag.
"""

from __future__ import annotations

WRONG_INPUT_SENTENCES: dict[str, str] = {
    "same_file_twice": (
        "{first} and {second} hold the same numbers: one file was sent twice. Choose the right file for each."
    ),
    "numbers_beyond_range": (
        "{role} holds values up to {largest} where 1 is the most: decibels or degrees seem to be read as "
        "another format. Check the format in the file's option line, or export the sweep again."
    ),
    "phase_too_small": (
        "The phase of {role} stays within {largest} degrees at every frequency, which no device shows: real "
        "and imaginary parts seem to be read as magnitude and angle. Check the format in the file's option "
        "line, or export the sweep again."
    ),
    "cable_left_in": (
        "S11 and S21 do not belong to one series impedance: their sum misses 1 by {misfit}. Cable, loss or "
        "gain lies between the calibration and the clips, and the impedance shown is not the device's. "
        "Calibrate at the ends of the jig's leads and repeat."
    ),
    "cable_behind_port2": (
        "S21 comes later than S11 allows: about {metres} m of cable seem to lie between the device and "
        "port 2, outside the calibration. The impedance shown is not the device's. Calibrate at the ends of "
        "the jig's leads, or add a sweep of the jig closed on itself, and repeat."
    ),
    "phase_reversed": (
        "The low end is capacitive and its impedance rises: the phase has the wrong sign. Check how the "
        "sweep was exported (the sign of the angle or of the imaginary part)."
    ),
    "looks_like_antenna": (
        "S11 dips to an SWR of {swr} at {at}, as that of an antenna or of a loaded device does. A choke "
        "needs a sweep of S21 through it, or S11 with its far side shorted to the shield: check what was "
        "connected, or choose another kind of test."
    ),
    "jig_short_rejects": (
        "The sweep jig_short loses {loss_db} dB, so it is no sweep of the linked jig. Check that it is not "
        "the open jig or a device, and sweep the jig linked."
    ),
    "jig_open_passes": (
        "The sweep jig_open lets through what no empty jig does ({loss_db} dB). Check that it is not the "
        "linked jig or a device, and sweep the jig with nothing attached."
    ),
    "jig_foreign": (
        "{role} does not belong to this sweep: its stray does not explain what the device's sweep shows. "
        "Check that it is of the same jig and calibration, and sweep it again."
    ),
    "driven_from_far_side": (
        "The sweep is that of a {ratio} device driven from its far side. Connect port 1 to the unbalanced, "
        "low side, or correct the ratio, and repeat."
    ),
    "other_load": (
        "{role} fits a device whose far side has 50 ohm in place of {load_ohm} ohm. Check the load resistor "
        "and the ratio, and repeat."
    ),
    "ratio_contradicted": (
        "The sweeps fit a device of about {fits}:1 where {ratio}:1 was given. Check the ratio, the load and "
        "that every sweep is of this device."
    ),
    "far_sides_mixed": (
        "The sweeps far_open, far_short and far_load do not belong to one device as they are named. "
        "{exchange} Check the files and send them again."
    ),
    "far_load_foreign": (
        "The sweep far_load does not fit the pair: check that it is of one of its two devices, with the load "
        "across the far side, and that ratio and load are right."
    ),
    "series_resistor_missing": (
        "S11 is that of a device straight on 50 ohm: the series resistor of {series_ohm} ohm seems to be "
        "missing. Put it between the far terminal and the port-2 centre and repeat."
    ),
    "single_device_as_pair": (
        "{role} cannot be of two like devices back to back: it looks like a single device. File it under "
        "the method for one device, or sweep the pair with the high sides joined."
    ),
    "pair_of_other_ratio": (
        "The two devices of {role} seem to have different ratios, by a factor of about {step}. Check that "
        "both are of the ratio given, and sweep the pair again."
    ),
    "halves_in_phase": (
        "The two halves are in phase (within {phase_deg} degrees over most of the sweep), where a balun's "
        "are opposite. Check that port 1 is on the unbalanced side and that each sweep is of its own "
        "terminal, and repeat."
    ),
    "pairs_contradict": (
        "By these pairs device {device} would give out more than it takes: {others} may be of other "
        "devices. Check which devices are in each sweep and repeat the wrong one."
    ),
}
