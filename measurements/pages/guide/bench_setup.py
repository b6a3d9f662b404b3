"""Guide: what all tests share: the analyser, the jig, the device turned round, readings, files."""

from __future__ import annotations

from measurements.pages.guide import resistors
from measurements.pages.guide.page_structure import Topic

# how other pages call a topic in passing
TOPIC_MENTIONS = {
    "analyser": "the analyser and its calibration",
    "jig": "the jig, swept by itself",
    "turned": "the device turned round",
    "readings": "readings, when no file can be saved",
    "files": "files",
    "resistors": "resistors",
}

BENCH_TOPICS = (
    Topic(
        "analyser",
        "The analyser",
        (
            "Any vector network analyser will do that saves Touchstone files or CSV. Its reference is 50 ohm "
            "unless the file says otherwise.",
            "Calibrate where the device will be: at the ends of the jig's leads, not at the analyser's "
            "sockets. Calibrate again when the range, a lead or the temperature has changed. A test "
            "declared uncalibrated stays in your account and out of evidence.",
            "The usual sweep is 1 to 30 MHz, to 54 MHz where 6 m matters. Use 401 points or more: bands are "
            "narrow, and a band with fewer than two points inside is interpolated.",
        ),
    ),
    Topic(
        "jig",
        "The jig, swept by itself",
        (
            "The jig is everything between analyser and device: clips, adapters, leads. Whatever it does "
            "is in every sweep, so it is swept by itself, over the same range, once for a bench session.",
            "Closed on itself, it is what a perfect connection reads: S21 of the test is divided by it.",
            "Nothing attached, it is the floor: what gets across without any device. Within 10 dB of it a "
            "reading can be 3 dB too low or too high, and the band is judged by what is certain. Across "
            "the clips 1 "
            "pF is 15.9 kilohm at 10 MHz, and an isolation of 60 dB reads as a false 100 kilohm.",
            "Linked, it is the series impedance of the leads. With the open and the linked sweep together "
            "the jig is taken off the result; the result holds both figures and says which one is "
            "judged.",
        ),
        steps=(
            "Take the device out and leave the leads where they are.",
            "Sweep with the clips joined to each other: the jig closed on itself (jig_through).",
            "Sweep with the clips where they hold the device, and nothing attached (jig_open).",
            "Sweep with the shortest link in the place of the device: the jig linked (jig_short).",
            "Send them with the test; the names in brackets are those of the API.",
        ),
        drawn=(
            ("common_mode", None, "jig_through"),
            ("common_mode", None, "jig_open"),
            ("common_mode", None, "jig_short"),
        ),
    ),
    Topic(
        "turned",
        "The device turned round",
        (
            "Most hobby analysers send from port 1 only: their files carry S11 and S21, and zeros or "
            "copies in the other two columns. Such columns are found and never used.",
            "A second sweep with the device turned round supplies them; the two make one full two-port. "
            "It is needed for the renormalised method, and worth having for common mode.",
        ),
        steps=(
            "Sweep as drawn and save the file.",
            "Leave leads, calibration, start, stop and number of points as they are.",
            "Take the device off, turn it, and join its other side to port 1.",
            "Sweep again and send this file as the one with the device turned round.",
        ),
        drawn=(
            ("insertion_loss", "renormalised", "sweep"),
            ("insertion_loss", "renormalised", "sweep_reversed"),
        ),
    ),
    Topic(
        "readings",
        "Readings, when no file can be saved",
        (
            "A reading is one value at one frequency, read off the screen by hand: rejection in dB for "
            "common mode, SWR for load match, loss in dB for insertion loss. Balance and the test at the "
            "antenna need files.",
            "Readings are marked as such and shown apart. They are never drawn as a curve, never judged "
            "and never counted as evidence, since nobody knows what lies between them.",
            "Type them into the upload form in place of a file: a line each, frequency in MHz and the value, "
            "such as 7.1 31.2. Insertion loss takes them straight through only. Programs send them as the "
            "field readings of the API.",
        ),
        steps=(
            "Put the marker at the worst point of the band, and at its two ends.",
            "Write down frequency and value as shown, losses and rejections without a minus sign.",
        ),
    ),
    Topic(
        "files",
        "Files",
        (
            "Touchstone, one to four ports, is best: it says what it holds. Send the file as the analyser "
            "saved it; the server holds the original bytes.",
            "CSV is taken with decimal point or comma, separated by semicolon, tab or comma, with "
            "frequency in Hz, kHz or MHz. The page says how it read the file: check that before you save.",
            "A file that cannot be trusted is refused with the number of the line and a sentence on what "
            "to do.",
        ),
    ),
    Topic(
        "resistors",
        "Resistors",
        (
            "Film or carbon, never wire-wound: at 30 MHz a coil is no resistor. Leads as short as they go. "
            "Measure each one on an ohmmeter and give the form its value: that is what is computed with.",
        ),
        tables=(resistors.build_load_table, resistors.build_series_table),
    ),
)
