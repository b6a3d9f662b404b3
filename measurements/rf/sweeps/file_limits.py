"""How large a file may be, and which numbers in it can be true.

The size limits bound time and memory before anything is parsed; the ranges keep every later
square, sum and logarithm away from overflow. All are house defaults, far outside what a bench
analyser writes.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from measurements.errors import BenchnightError, Kind
from measurements.rf.sweeps.sweep import Complexes, Floats

MAX_BYTES = 8 * 1024 * 1024

MAX_POINTS = 50_000

MAX_PORTS = 4

MAX_LINES = 400_000

MAX_LINE_CHARACTERS = 4_096

MAX_NUMBER_CHARACTERS = 32

MAX_READINGS = 1_000

MAX_FREQUENCY_HZ = 1e12

MAX_MAGNITUDE = 1e6  # 120 dB: no bench amplifier, let alone a passive device

MIN_REFERENCE_OHM, MAX_REFERENCE_OHM = 1e-3, 1e6


def build_refusal(code: str, detail: str, line: int | None = None, kind: Kind = "invalid") -> BenchnightError:
    """Return a sweep file that cannot be taken: `code` without its "sweep." prefix, the line at fault."""
    return BenchnightError(f"sweep.{code}", detail, kind=kind, field="sweep", line=line)


def check_size(data: bytes) -> None:
    """Raise BenchnightError `sweep.empty` or `sweep.too_large`."""
    if len(data) > MAX_BYTES:
        raise build_refusal(
            "too_large",
            f"The file has {len(data)} bytes; the limit is {MAX_BYTES}. Sweep with fewer points.",
            kind="too_large",
        )
    if not data.strip():
        raise build_refusal("empty", "The file is empty. Save the sweep again and send that file.")


def check_points(points: int) -> None:
    """Raise BenchnightError `sweep.too_many_points`."""
    if points > MAX_POINTS:
        raise build_refusal(
            "too_many_points",
            f"The sweep has more than {MAX_POINTS} points. Sweep with fewer points.",
            kind="too_large",
        )


def convert_to_hz(frequency: Floats, scale_hz: float) -> Floats:
    """Return frequencies in Hz; what overflows becomes infinite, for `check_frequencies` to refuse by
    line.
    """
    with np.errstate(over="ignore"):
        scaled: Floats = frequency * scale_hz
    return scaled


def check_frequencies(freq_hz: Floats, line_of: Callable[[int], int]) -> None:
    """Frequencies must be finite, not negative, below 1 THz and strictly rising.

    freq_hz: (F,). line_of: index of a point -> its line, called only where a fault is named.
    """
    if np.all((freq_hz >= 0) & (freq_hz <= MAX_FREQUENCY_HZ)) and np.all(freq_hz[1:] > freq_hz[:-1]):
        return
    for index, value in enumerate(freq_hz):
        line = line_of(index)
        if not np.isfinite(value):
            raise build_refusal("not_finite", f"The frequency in line {line} is not a finite number.", line)
        if value < 0:
            raise build_refusal("negative_frequency", f"The frequency in line {line} is negative.", line)
        if value > MAX_FREQUENCY_HZ:
            raise build_refusal(
                "frequency_range",
                f"The frequency in line {line} is {value:.6g} Hz, above 1 THz. "
                "The unit the file states does not fit its numbers: export it again.",
                line,
            )
        if index and value <= freq_hz[index - 1]:
            how = "repeats" if value == freq_hz[index - 1] else "is lower than"
            raise build_refusal(
                "frequency_order",
                f"The frequency in line {line} {how} the one before it. "
                "Frequencies must rise from line to line: send one single sweep, lowest frequency first.",
                line,
            )


def check_values(values: Complexes, line_of: Callable[[int], int], what: str = "value") -> None:
    """Refuse a magnitude that is not finite or above MAX_MAGNITUDE.

    values: (F, ...) complex or real. Raises `sweep.not_finite` or `sweep.value_range`.
    """
    size = np.abs(values).reshape(len(values), -1)
    if np.all(size <= MAX_MAGNITUDE):
        return
    index = int(np.argmax(~np.all(size <= MAX_MAGNITUDE, axis=1)))
    line = line_of(index)
    if not np.all(np.isfinite(size[index])):
        raise build_refusal("not_finite", f"A {what} in line {line} is not a finite number.", line)
    raise build_refusal(
        "value_range",
        f"A {what} in line {line} is a ratio above {MAX_MAGNITUDE:.0e}, which no device gives. "
        "Check the unit and format the file states.",
        line,
    )


def check_reference(z0_ohm: float, line: int | None) -> None:
    """Raise BenchnightError `sweep.reference` unless 1 milliohm <= z0_ohm <= 1 megohm."""
    if not MIN_REFERENCE_OHM <= z0_ohm <= MAX_REFERENCE_OHM:
        raise build_refusal(
            "reference",
            f"The reference resistance {z0_ohm:g} ohm cannot be right: it must be positive "
            "(50 for nearly every analyser). Export the file again with its reference.",
            line,
        )


# Every code with which a sweep file or a list of readings is refused, and what it means.
#
# A code is stable: programs may rely on it. Those that begin with `sweep.csv_` are about tables; most
# of them put a question. A test holds this list against the code.

REFUSAL_CODES: dict[str, str] = {
    # any file
    "sweep.empty": "The file holds nothing.",
    "sweep.ending": "A name with an ending that sweeps do not have, or that does not fit the content.",
    "sweep.too_large": "More than 8 MiB.",
    "sweep.too_many_lines": "More than 400,000 lines.",
    "sweep.too_many_points": "More than 50,000 points.",
    "sweep.too_many_ports": "More than 4 ports.",
    "sweep.line_too_long": "A line of more than 4,096 characters.",
    "sweep.number_too_long": "A number of more than 32 characters.",
    "sweep.binary": "Not a text file.",
    "sweep.no_data": "A head or comments, but no data.",
    "sweep.not_a_number": "Something that is no number among the data.",
    "sweep.not_finite": "NaN, infinity, or a number too large to be held.",
    "sweep.decimal_comma": "A decimal comma in Touchstone, or a decimal mark that changes within a table.",
    "sweep.separator": "A comma or semicolon between the numbers of a Touchstone file.",
    "sweep.row_length": "A line with too few or too many numbers.",
    "sweep.negative_frequency": "A frequency below 0.",
    "sweep.negative_magnitude": "A magnitude below 0, as where decibels are filed under the option MA.",
    "sweep.frequency_order": "A frequency that repeats or falls.",
    "sweep.frequency_range": "Frequencies that cannot have the unit the file states.",
    "sweep.value_range": "A ratio above 120 dB.",
    "sweep.nothing_measured": "Every value is zero.",
    # Touchstone
    "sweep.missing_option_line": "Question: which unit and format? Data come before any option line.",
    "sweep.option_line": "An option line that cannot be read.",
    "sweep.version": "A version of Touchstone that is not known.",
    "sweep.keyword": "A keyword that is unknown, missing, repeated, misplaced or has a bad argument.",
    "sweep.ports": "No port, a port count that contradicts the file name, or not two ports to turn round.",
    "sweep.ports_unknown": "Question: how many ports?",
    "sweep.port_order": "Question: which comes first, S21 or S12?",
    "sweep.point_count": "The data hold another number of points than the head says.",
    "sweep.reference": "A reference resistance that is not positive, not a number, or not one for each port.",
    "sweep.complex_reference": "A complex reference impedance.",
    "sweep.port_impedance": "Comments that state another port impedance than the option line.",
    "sweep.mixed_mode": "Mixed-mode data.",
    "sweep.noise": "Noise data that are out of order or miscounted.",
    "sweep.no_s_parameters": "Z, Y, G or H values that have no S-parameters.",
    # CSV
    "sweep.csv_no_table": "No table of numbers.",
    "sweep.csv_thousands": "Numbers with thousands marks, or that may have them.",
    "sweep.csv_quotes": "Quotation marks that do not pair up.",
    "sweep.csv_columns": "Names that do not fit the columns, are not known, or say the same twice.",
    "sweep.csv_no_header": "Question: what do the columns mean?",
    "sweep.csv_frequency_unit": "Question: which unit has the frequency?",
    "sweep.csv_parameter": "Question: S11 or S21?",
    "sweep.csv_phase_unit": "Question: degrees or radians?",
    "sweep.csv_scale": "Question: decibels, a linear ratio or a real part?",
    "sweep.csv_sign": "Question: a loss or a gain? Or a column with both signs.",
    "sweep.csv_partner": "A real part without imaginary part, or a phase without size.",
    "sweep.csv_empty_cell": "An empty cell in a column that is needed.",
    "sweep.csv_guess": "A confirmed meaning of the columns that cannot be used.",
    "sweep.swr_range": "An SWR below 1, or beyond a million.",
    # sweeps that are read
    "sweep.not_measured": "A column that this sweep does not have.",
    "sweep.magnitude_only": "A sweep without phase, where one is needed.",
    "sweep.grid_differs": "Two sweeps with different frequencies.",
    "sweep.no_overlap": "Two sweeps with no frequency in common.",
    "sweep.reference_differs": "Two sweeps with different references.",
    "sweep.not_turned": "Two equal sweeps where the second should be the device turned round.",
    # readings
    "readings.empty": "No reading.",
    "readings.too_many": "More than 1,000 readings.",
    "readings.shape": "Not a list of frequency_hz and value.",
    "readings.not_a_number": "Something that is no number.",
    "readings.not_finite": "NaN, infinity, or a number too large to be held.",
    "readings.frequency": "A frequency that is not above 0.",
    "readings.value": "A value below what makes sense.",
    "readings.duplicate": "Two readings at one frequency.",
}
