"""Guide: flags about the sweep itself, about bands, and about the jig."""

from __future__ import annotations

from measurements.pages.guide.page_structure import ALL_KINDS, CM, CM_IL, FlagHelp

SWEEP: dict[str, FlagHelp] = {
    "not_passive": FlagHelp(
        "More comes out than goes in",
        "A balun or choke cannot do that; the calibration is off. Calibrate at the ends of the leads, "
        "repeat.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "not_reciprocal": FlagHelp(
        "The two directions differ",
        "Ferrite and wire are the same both ways. Something moved between the two: repeat them in one "
        "sitting.",
        ALL_KINDS,
        ("bench", "turned"),
    ),
    "unmeasured_columns": FlagHelp(
        "Columns that were not measured",
        "The file holds zeros or copies in place of a measurement, and they were not used. A sweep with the "
        "device turned round supplies them where they are wanted.",
        ALL_KINDS,
        ("bench", "turned"),
    ),
    "magnitude_only": FlagHelp(
        "No phase",
        "Impedance and everything computed from it need phase. Save as Touchstone.",
        ALL_KINDS,
        ("bench", "files"),
    ),
    "reference_converted": FlagHelp(
        "Another reference, converted",
        "The file refers to another impedance than 50 ohm. All four S-parameters were there, so the "
        "conversion is exact; nothing to do.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "reference_not_50": FlagHelp(
        "Not a 50-ohm sweep",
        "The figures hold for another reference and compare with no others. Set the analyser to 50 ohm, "
        "repeat.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "undefined_points": FlagHelp(
        "Points without a value",
        "At some points a figure would be infinite or is not defined; they are left empty. A few are "
        "harmless.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "uncalibrated": FlagHelp(
        "Declared uncalibrated",
        "Kept for you, left out of evidence. Calibrate at the ends of the leads and repeat.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "calibration_unknown": FlagHelp(
        "Calibration not stated",
        "Say whether the analyser was calibrated at the ends of the jig's leads.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "same_sweep": FlagHelp(
        "The same sweep is stored already",
        "One file stands under two tests and counts once. Withdraw the test that it does not belong to.",
        ALL_KINDS,
        ("bench", "files"),
    ),
    "readings": FlagHelp(
        "Readings, not a sweep",
        "Shown apart, never judged, never evidence. Save the sweep as a file to have it counted.",
        ("common_mode", "load_match", "insertion_loss"),
        ("bench", "readings"),
    ),
}
BANDS: dict[str, FlagHelp] = {
    "bands_not_covered": FlagHelp(
        "Bands that the sweep does not reach",
        "They stay empty. Sweep 1 to 30 MHz, to 54 MHz for 6 m.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "partial_band": FlagHelp(
        "Part of a band only",
        "The worst point may lie in the part that was not swept, so the band is no evidence. Sweep all of "
        "it.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "sparse_in_band": FlagHelp(
        "Few points in a band",
        "Its figures are interpolated between neighbours. More points, or a narrower sweep, show what is "
        "there.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
    "gap_over_band": FlagHelp(
        "A gap over a band",
        "The neighbours are more than an octave apart; what lies between is a guess. Use more points.",
        ALL_KINDS,
        ("bench", "analyser"),
    ),
}
JIG: dict[str, FlagHelp] = {
    "jig_limited": FlagHelp(
        "Limited by the jig",
        "The jig with nothing attached lets nearly as much through. A reading there may be too low or "
        "too high. Sweep the jig open and linked, and it is taken out.",
        CM,
        ("bench", "jig"),
    ),
    "floor_unknown": FlagHelp(
        "The jig's floor is not known",
        "Without a sweep of the jig with nothing attached nobody knows how much it can show. Sweep it.",
        CM,
        ("bench", "jig"),
    ),
    "jig_incomplete": FlagHelp(
        "The jig was swept one way only",
        "Taking the jig off needs it both ways: nothing attached, and linked. Until then the figures are "
        "raw.",
        CM,
        ("bench", "jig"),
    ),
    "jig_span": FlagHelp(
        "The jig's sweep does not reach",
        "It leaves bands of the test uncovered and was not used. Sweep jig and device over one range.",
        CM_IL,
        ("bench", "jig"),
    ),
    "jig_narrower": FlagHelp(
        "The jig's sweep is narrower",
        "What the device's sweep shows outside of it is left out. Sweep jig and device over one range.",
        CM_IL,
        ("bench", "jig"),
    ),
    "jig_through_poor": FlagHelp(
        "The jig closed on itself is lossy",
        "More than 0.5 dB: leads that were not calibrated out, or a bad contact. Mend it and sweep it "
        "again, and the device too.",
        CM_IL,
        ("bench", "jig"),
    ),
}
