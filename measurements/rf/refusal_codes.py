"""Every code with which a sweep file or a list of readings is refused, and what it means.

A code is stable: programs may rely on it. Those that begin with `sweep.csv_` are about tables; most
of them put a question. A test holds this list against the code.
"""

from __future__ import annotations

CODES: dict[str, str] = {
    # any file
    "sweep.empty": "The file holds nothing.",
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
    "sweep.row_length": "A line with too few or too many numbers.",
    "sweep.negative_frequency": "A frequency below 0.",
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
