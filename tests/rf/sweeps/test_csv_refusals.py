"""CSV that can be read in more ways than one is a question; broken CSV is refused with its line."""

from __future__ import annotations

import pytest

from tests.rf.sweeps.refusals import refused

QUESTIONS = {
    "MHz or GHz": ("freq,SWR\n1.8,1.5\n2,2\n", "csv_frequency_unit", 1, "Which unit"),
    "Hz or kHz": ("freq,SWR\n200000,1.5\n900000,2\n", "csv_frequency_unit", 1, "Which unit"),
    "kHz or MHz": ("! x\nfreq,SWR\n1800,1.5\n2000,2\n", "csv_frequency_unit", 2, "Which unit"),
    "no unit fits": ("freq,SWR\n1,1.5\n90000000000,2\n", "csv_frequency_unit", 1, "Which unit"),
    "which parameter": ("MHz,dB\n1,-20\n2,-21\n", "csv_parameter", 1, "S11 or S21?"),
    "which parameter of a complex": ("MHz,re,im\n1,.1,.2\n2,.1,.2\n", "csv_parameter", 1, "S11 or S21?"),
    "which angle": ("MHz,S21 dB,S21 phase\n1,-20,1\n2,-20,2\n", "csv_phase_unit", 1, "degrees or radians"),
    "which scale": ("MHz,|S21|\n1,20\n2,21\n", "csv_scale", 1, "decibels, a linear ratio"),
    "bare parameter": ("MHz,S21\n1,.5\n2,-.6\n", "csv_scale", 1, "decibels, a linear ratio"),
    "loss or gain": ("MHz,S21 dB\n1,20\n2,30\n", "csv_sign", 1, "a loss or a gain?"),
    "no names": ("1.8,-20,5\n2.0,-20,5\n", "csv_frequency_unit", 1, "Which unit"),
    "no names, unit clear": (
        "1800000,-20,5\n2000000,-20,5\n",
        "csv_no_header",
        1,
        "What do the 3 columns mean?",
    ),
    "unknown names": ("MHz,colour\n1,2\n2,3\n", "csv_columns", 1, "What do the columns mean?"),
}

BROKEN = {
    "no table": ("hello\nworld\n", "csv_no_table", 1),
    "names only": ("freq MHz,S21 dB\n", "csv_no_table", 1),
    "comments only": ("# a\n! b\n// c\n", "no_data", 4),
    "one column": ("S21 dB\n-20\n-21\n", "csv_no_table", 1),
    "thousands with points": ("freq Hz;S21 dB\n1.000.000;-3,2\n2.000.000;-3,1\n", "csv_thousands", 2),
    "thousands with commas": ('freq Hz,S21 dB\n"1,000,000",-3.2\n"2,000,000",-3.1\n', "csv_thousands", 2),
    "thousands with spaces": ("freq Hz;S21 dB\n1 000 000;-3,2\n2 000 000;-3,1\n", "csv_thousands", 2),
    "two decimal marks": ("freq MHz;S21 dB\n7,100;-20.5\n7,200;-20.5\n", "csv_thousands", 2),
    "decimal mark that changes": (
        "freq MHz;S21 dB\n" + "".join(f"{k};-20,5\n" for k in range(1, 30)) + "30;-20.5\n",
        "decimal_comma",
        31,
    ),
    "decimal commas between commas": ("MHz,S21 dB\n7,1,-20,5\n7,2,-20,6\n", "csv_columns", 1),
    "nan": ("MHz,S21 dB\n1,-20\n2,nan\n", "not_finite", 3),
    "nan in the first row": ("MHz,S21 dB\n1,nan\n2,-20\n", "not_finite", 2),
    "spreadsheet error": ("MHz;S21 dB\n1;-20\n2;#DIV/0!\n", "not_finite", 3),
    "empty cell": ("MHz;S21 dB;S21 deg\n1;-20;5\n2;;5\n", "csv_empty_cell", 3),
    "short row": (
        "MHz,S21 dB,S21 deg\n" + "".join(f"{k},-20,5\n" for k in range(1, 30)) + "30,-20\n",
        "row_length",
        31,
    ),
    "long row": (
        "MHz,S21 dB\n" + "".join(f"{k},-20\n" for k in range(1, 30)) + "30,-20,5\n",
        "row_length",
        31,
    ),
    "short last row": ("MHz,S21 dB,S21 deg\n1,-20,5\n2,-20\n", "row_length", 3),
    "second table": (
        "MHz,S21 dB\n" + "".join(f"{k},-20\n" for k in range(1, 30)) + "MHz,S11 dB\n1,-3\n",
        "not_a_number",
        31,
    ),
    "falling": ("MHz,S21 dB\n2,-20\n1,-20\n", "frequency_order", 3),
    "repeated": ("MHz,S21 dB\n1,-20\n2,-20\n2,-20\n", "frequency_order", 4),
    "negative frequency": ("MHz,S21 dB\n-1,-20\n2,-20\n", "negative_frequency", 2),
    "a few hertz": ("Hz;S21 dB\n7.100;-20.5\n7.200;-20.5\n", "frequency_range", 3),
    "beyond": ("GHz,S21 dB\n1000,-20\n2000000,-20\n", "frequency_range", 3),
    "overflow in a cell": ("MHz,S21 dB,S21 deg\n1,-20,5\n2,-20,1e999\n", "not_finite", 3),
    "overflowing frequency": ("MHz,S21 dB\n1,-20\n1e308,-20\n", "not_finite", 3),
    "swr below 1": ("MHz,SWR\n1,1.1\n2,.9\n", "swr_range", 3),
    "swr beyond": ("MHz,SWR\n1,1.1\n2,1e9\n", "swr_range", 3),
    "negative magnitude": ("MHz,S21 linear\n1,.1\n2,-.1\n", "csv_sign", 3),
    "loss of both signs": ("MHz,S21 loss dB\n1,20\n2,-20\n", "csv_sign", 3),
    "decibels beyond": ("MHz,S21 gain dB\n1,20\n2,400\n", "value_range", 3),
    "decibels overflow": ("MHz,S21 gain dB\n1,20\n2,1e9\n", "not_finite", 3),
    "decibels overflow with a phase": ("MHz,S21 gain dB,S21 deg\n1,20,5\n2,1e9,5\n", "not_finite", 3),
    "minus the reference": ("MHz,R,X\n1,50,0\n2,-50,0\n", "not_finite", 3),
    "half a complex": ("MHz,S21 re\n1,.5\n2,.6\n", "csv_partner", 2),
    "phase alone": ("MHz,S21 phase deg\n1,50\n2,60\n", "csv_partner", 2),
    "same meaning twice": ("MHz,S21 dB,dB S21\n1,-20,-20\n2,-20,-20\n", "csv_columns", 1),
    "two frequencies": ("MHz,Freq Hz,SWR\n1,1000000,2\n2,2000000,2\n", "csv_columns", 1),
    "transmission as SWR": ("MHz,S21 SWR\n1,2\n2,2\n", "csv_columns", 1),
    "no frequency": ("S21 dB,S21 deg\n-20,5\n-19,6\n", "csv_columns", 1),
    "quotes that do not pair": ('MHz,S21 dB\n1,-20\n"2,-20\n', "csv_quotes", 3),
    "number too long": ("MHz,S21 dB\n1,-20\n2,-20." + "0" * 40 + "\n", "number_too_long", 3),
    "nothing measured": ("MHz,S21 re,S21 im\n1,0,0\n2,0,0\n", "nothing_measured", None),
    "65 columns": (",".join(["MHz", *["x"] * 64]) + "\n" + ",".join(["1"] * 65) + "\n", "csv_no_table", 1),
}


@pytest.mark.parametrize("case", QUESTIONS)
def test_questions(case: str) -> None:
    text, code, line, asks = QUESTIONS[case]
    error = refused(text, "bench.csv", code, line)
    assert asks in error.detail and "?" in error.detail


@pytest.mark.parametrize("case", BROKEN)
def test_broken(case: str) -> None:
    text, code, line = BROKEN[case]
    refused(text, "bench.csv", code, line)


def test_size_limits() -> None:
    many = "Hz,S21 dB\n" + "".join(f"{1000 + k},-20\n" for k in range(50_001))
    assert refused(many, "bench.csv", "too_many_points").kind == "too_large"
    assert refused(b"1,2\n" * 2_200_000, "bench.csv", "too_large").kind == "too_large"
    refused(b"MHz,S21 dB\n1,-20\0\n", "bench.csv", "binary")
    refused("x" * 4_097, "bench.csv", "line_too_long", 1)


def test_the_refusal_names_the_role_of_the_file() -> None:
    refused("MHz,S21 dB\n1,-20\n2,nan\n", "pair.csv", "not_finite", 3, role="pair_ab")
