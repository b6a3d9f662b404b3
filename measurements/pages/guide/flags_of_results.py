"""Guide: flags about wiring and load, figures that are missing, and single methods."""

from __future__ import annotations

from measurements.pages.guide.page_structure import ALL_KINDS, AT, BA, CM, CM_IL, DC, IL, LM, FlagHelp

WIRING: dict[str, FlagHelp] = {
    "looks_like_through": FlagHelp(
        "Looks like a plain connection",
        "Under 1 dB everywhere. Tie each side's terminals together as drawn; no terminal touches a shield.",
        CM,
        ("common_mode", "wiring"),
    ),
    "looks_open": FlagHelp(
        "Looks open",
        "Hardly anything gets through: a clip has no contact. Check and repeat.",
        CM_IL,
        ("bench", "jig"),
    ),
    "looks_unterminated": FlagHelp(
        "Looks as if there were no load",
        "Nearly everything is reflected: the resistor is missing, shorted or has no contact.",
        LM,
        ("load_match", "wiring"),
    ),
    "looks_like_insertion_loss": FlagHelp(
        "Looks like insertion loss",
        "Small and flat, as no choke is. File it as insertion loss, or wire it as drawn and repeat.",
        CM,
        ("common_mode", "wiring"),
    ),
    "looks_like_common_mode": FlagHelp(
        "Looks like common mode",
        "So much is kept back that it looks like a choke in series. File it as common mode, or check the "
        "wiring.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "load_off_nominal": FlagHelp(
        "The load is off",
        "More than 5 % from ratio × 50 ohm; part of the SWR is the resistor's own.",
        LM,
        ("load_match", "wiring"),
    ),
    "load_far_from_nominal": FlagHelp(
        "The load belongs to another ratio",
        "More than 20 % from ratio × 50 ohm. Repeat with the right resistor, or correct the ratio.",
        LM,
        ("load_match", "wiring"),
    ),
    "load_assumed": FlagHelp(
        "The load was not measured",
        "ratio × 50 ohm was taken. Measure the resistor and give its value.",
        ("load_match", "insertion_loss"),
        ("bench", "resistors"),
    ),
}
FIGURES: dict[str, FlagHelp] = {
    "no_self_resonance": FlagHelp(
        "No self-resonance in this sweep",
        "It lies above or below what was swept; nothing is wrong.",
        CM,
        ("common_mode", "wiring"),
    ),
    "no_inductance": FlagHelp(
        "No inductance",
        "Too little of the sweep lies well below the resonance. Start lower if you want the figure.",
        CM,
        ("common_mode", "wiring"),
    ),
    "no_stray_capacitance": FlagHelp(
        "No stray capacitance",
        "Too little of the sweep lies above the resonance. Sweep higher if you want the figure.",
        CM,
        ("common_mode", "wiring"),
    ),
    "benchmark_not_met": FlagHelp(
        "Meets the benchmark nowhere",
        "Not at one point of the sweep. Check the wiring first, then core, mix and turns.",
        CM,
        ("common_mode", "wiring"),
    ),
    "no_split": FlagHelp(
        "Loss not split",
        "It takes S11 of one device, with S21, to tell how much was reflected and how much turned to heat.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "ratio_floor": FlagHelp(
        "The ratio's own mismatch is in it",
        "Straight through, even a perfect device of this ratio reads that much. Take another method.",
        IL,
        ("insertion_loss", "direct"),
    ),
}
METHODS: dict[str, FlagHelp] = {
    "halved_only": FlagHelp(
        "Halved loss only",
        "Half of a pair's loss is wrong by 0.3 to 0.8 dB where the devices mismatch. S11 with phase, saved "
        "with S21, takes that out.",
        IL,
        ("insertion_loss", "back_to_back"),
    ),
    "crossed_joint": FlagHelp(
        "The joint is crossed",
        "A meets B at the joint. It was taken into account; nothing to repeat.",
        IL,
        ("insertion_loss", "back_to_back"),
    ),
    "impossible_gain": FlagHelp(
        "More comes out than goes in",
        "Files mixed up, a resistor forgotten, or a ratio or a partner's loss that is wrong. Such a figure "
        "is never judged.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "impossible_gain_in_band": FlagHelp(
        "More comes out than goes in, in one band",
        "Files mixed up, a resistor forgotten, or a ratio or a partner's loss that is wrong. Such a figure "
        "is never judged.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "negative_resistance": FlagHelp(
        "A resistance below zero",
        "The calibration does not hold at the clips, or a jig file is of another jig. Such a figure is "
        "never judged.",
        CM,
        ("common_mode", "wiring"),
    ),
    "negative_resistance_in_band": FlagHelp(
        "A resistance below zero, in one band",
        "The calibration does not hold at the clips, or a jig file is of another jig. Such a figure is "
        "never judged.",
        CM,
        ("common_mode", "wiring"),
    ),
    "uncertainty_large": FlagHelp(
        "Not known well enough on this analyser",
        "The figure can be too close to call whatever the device does. The flag names the method that can "
        "be believed.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "series_assumed": FlagHelp(
        "The series resistor was not measured",
        "(ratio − 1) × 50 ohm was taken. Measure the resistor and give its value.",
        IL,
        ("insertion_loss", "series_resistor"),
    ),
    "series_off_nominal": FlagHelp(
        "The series resistor is off",
        "The device works into another load than its own, and the loss shown is the one there. Stay "
        "within 5 %.",
        IL,
        ("insertion_loss", "series_resistor"),
    ),
    "pairs_disagree": FlagHelp(
        "The pairs contradict each other",
        "A joint was wrong or a device changed. Repeat the pairs that fit worst.",
        IL,
        ("insertion_loss", "pairs"),
    ),
    "balance_no_loss": FlagHelp(
        "No loss into the nominal load",
        "That takes all parameters of the three-port: an .s3p, or three sweeps with both directions "
        "measured.",
        BA,
        ("balance", "wiring"),
    ),
    "balance_reciprocal": FlagHelp(
        "A direction was taken from its reverse",
        "Wire and ferrite are the same both ways, so this is safe; nothing to do.",
        BA,
        ("bench", "turned"),
    ),
    "balance_sweeps_disagree": FlagHelp(
        "The sweeps disagree",
        "The terminal that is not swept must be in 50 ohm in each of them. Check it and repeat all.",
        BA,
        ("balance", "wiring"),
    ),
    "antenna_bands_missing": FlagHelp(
        "Which bands is the antenna for?",
        "An antenna is not expected to match elsewhere, so without its bands there is no finding.",
        AT,
        ("in_situ", "wiring"),
    ),
    "in_situ_needs_phase": FlagHelp(
        "No phase in the sweep",
        "Magnitudes alone do not tell an open device from a broken antenna. Save S11 as complex numbers.",
        AT,
        ("bench", "files"),
    ),
    "dc_type_unknown": FlagHelp(
        "Type not known",
        "What should conduct follows from the type. Store the test with its device, or name the type.",
        DC,
        ("dc", "wiring"),
    ),
    "dc_incomplete": FlagHelp(
        "A reading is missing", "Read the pair that is named, and send the test again.", DC, ("dc", "wiring")
    ),
    "dc_open_hidden": FlagHelp(
        "An open winding does not show",
        "All terminals are joined by another way. A load match shows it.",
        DC,
        ("load_match", "wiring"),
    ),
    "dc_arrester": FlagHelp(
        "An arrester was in the way", "Take it out of the circuit and read again.", DC, ("dc", "wiring")
    ),
    "in_situ_loss_hidden": FlagHelp(
        "A lossy device would read the same",
        "The antenna reflects almost nothing, so nothing comes back that loss could swallow. Measure the "
        "insertion loss on the bench.",
        AT,
        ("insertion_loss", "choose"),
    ),
}
RECIPE: dict[str, FlagHelp] = {
    "turns_do_not_fit": FlagHelp(
        "The turns do not fit the bore",
        "So many wires of this thickness do not lie in the core's hole. Often a digit of the turns or the "
        "wrong core was chosen. Said only where the maker's size and the wire's diameter are known.",
        ALL_KINDS,
        ("common_mode", "wiring"),
    ),
}
WRONG_INPUT: dict[str, FlagHelp] = {
    "same_file_twice": FlagHelp(
        "One file sent twice",
        "Two files of this test hold the same numbers. Choose the right file for each.",
        ALL_KINDS,
        ("bench", "files"),
    ),
    "numbers_beyond_range": FlagHelp(
        "Numbers out of range",
        "Nothing passive reflects or passes more than 1. Decibels or degrees were read as another format: "
        "look at the option line, or export again.",
        ALL_KINDS,
        ("bench", "files"),
    ),
    "cable_left_in": FlagHelp(
        "Cable or gain left in",
        "For a choke between the ports S11 and S21 add up to 1. Here they miss it by more than an honest "
        "sweep does, so length, loss or gain was not calibrated out. Calibrate at the clips.",
        CM,
        ("bench", "analyser"),
    ),
    "phase_too_small": FlagHelp(
        "Hardly any phase",
        "Real and imaginary parts were read as magnitude and angle. Check the option line of the file: RI, "
        "MA or DB.",
        ALL_KINDS,
        ("bench", "files"),
    ),
    "cable_behind_port2": FlagHelp(
        "Cable behind the device",
        "S11 and S21 of a choke belong together. Here S21 comes late, as through a cable that lies between "
        "the device and port 2. Rejection hardly moves, the impedance is wrong. Calibrate at the clips.",
        CM,
        ("bench", "analyser"),
    ),
    "phase_reversed": FlagHelp(
        "Phase of the wrong sign",
        "A choke is inductive at the low end. Check how the sweep was exported.",
        CM,
        ("bench", "files"),
    ),
    "looks_like_antenna": FlagHelp(
        "Looks like an antenna",
        "S11 alone that dips belongs to an antenna or to a loaded device. Sweep S21 through the choke, or "
        "choose another kind of test.",
        CM,
        ("common_mode", "wiring"),
    ),
    "jig_short_rejects": FlagHelp(
        "The linked jig lets nothing through",
        "The file is of the open jig or of a device. Link the jig and sweep it again.",
        CM,
        ("bench", "jig"),
    ),
    "jig_open_passes": FlagHelp(
        "The empty jig lets too much through",
        "The file is of the linked jig or of a device. Sweep the jig with nothing attached.",
        CM,
        ("bench", "jig"),
    ),
    "jig_foreign": FlagHelp(
        "A sweep of another jig",
        "Its stray is not the one that the device's own sweep shows. Sweep the jig that held the device.",
        CM,
        ("bench", "jig"),
    ),
    "driven_from_far_side": FlagHelp(
        "Driven from the far side",
        "Port 1 belongs on the unbalanced, low side. Turn the device round, or correct the ratio.",
        ("load_match", "insertion_loss"),
        ("load_match", "wiring"),
    ),
    "other_load": FlagHelp(
        "Another load than stated",
        "The sweep fits 50 ohm on the far side. Check the resistor and the ratio.",
        ("load_match", "insertion_loss"),
        ("bench", "resistors"),
    ),
    "ratio_contradicted": FlagHelp(
        "Another ratio than stated",
        "Both ends of the device reflect as those of another ratio do. Check ratio, load and files.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "far_sides_mixed": FlagHelp(
        "Far sides mixed up",
        "Open, short and load of one device make one passive device. These do not: files exchanged, or one "
        "of another device.",
        IL,
        ("insertion_loss", "one_port"),
    ),
    "far_load_foreign": FlagHelp(
        "far_load is of another device",
        "It does not fit the pair. Sweep one of its two devices with the load across the far side.",
        IL,
        ("insertion_loss", "back_to_back"),
    ),
    "series_resistor_missing": FlagHelp(
        "The series resistor is missing",
        "The device sees 50 ohm. Put the resistor between the far terminal and the port-2 centre.",
        IL,
        ("insertion_loss", "series_resistor"),
    ),
    "single_device_as_pair": FlagHelp(
        "One device filed as a pair",
        "Two like devices back to back take each other's ratio back, and this sweep does not. Choose the "
        "method for one device.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "pair_of_other_ratio": FlagHelp(
        "A pair of two ratios",
        "Two devices of one ratio back to back take each other's ratio back. This pair steps up or down. "
        "Check that both are of the ratio given.",
        IL,
        ("insertion_loss", "choose"),
    ),
    "halves_in_phase": FlagHelp(
        "Both halves in phase",
        "The terminals of a balun are opposite. In phase they are where port 1 is on a balanced terminal, or "
        "where one terminal was swept twice.",
        ("balance",),
        ("balance", "wiring"),
    ),
    "pairs_contradict": FlagHelp(
        "A pair of other devices",
        "By these pairs one device would give out power. Check which devices are in each sweep.",
        IL,
        ("insertion_loss", "pairs"),
    ),
}
