"""What is no clean sweep is refused with its line. Many of these scikit-rf 2.2 takes without a word."""

from __future__ import annotations

import pytest

from tests.rf.sweeps import touchstone_examples
from tests.rf.sweeps.refusals import refused

TWO = "# MHz S RI R 50\n"
ROW = ".1 .2 .3 .4 .5 .6 .7 .8"
HEAD_2 = "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 2\n"
ROWS_2 = f"1 {ROW}\n2 {ROW}\n"

VERSION_1 = {
    "nan": (TWO + f"1 {ROW}\n2 .1 NaN .3 .4 .5 .6 .7 .8\n", "not_finite", 3),
    "infinite": (TWO + f"1 {ROW}\n2 .1 -inf .3 .4 .5 .6 .7 .8\n", "not_finite", 3),
    "overflow": (TWO + f"1 {ROW}\n2 .1 1e999 .3 .4 .5 .6 .7 .8\n", "not_finite", 3),
    "overflowing decibels": ("# MHz S DB R 50\n" + f"1 {ROW}\n2 9999 0 .3 .4 .5 .6 .7 .8\n", "not_finite", 3),
    "decibels as magnitudes": (
        "# MHz S MA R 50\n" + f"1 {ROW}\n2 -20 0 .3 .4 .5 .6 .7 .8\n",
        "negative_magnitude",
        3,
    ),
    "beyond any device": (TWO + f"1 {ROW}\n2 1e7 0 .3 .4 .5 .6 .7 .8\n", "value_range", 3),
    "negative frequency": (TWO + f"-1 {ROW}\n2 {ROW}\n", "negative_frequency", 2),
    "descending": (TWO + f"2 {ROW}\n1 {ROW}\n", "frequency_order", 3),
    "repeated": (TWO + f"1 {ROW}\n2 {ROW}\n\n2 {ROW}\n", "frequency_order", 5),
    "repeated after scaling": ("# GHz S RI R 50\n" + f"1 {ROW}\n1.0 {ROW}\n", "frequency_order", 3),
    "a million gigahertz": ("# GHz S RI R 50\n" + f"1000000 {ROW}\n2000000 {ROW}\n", "frequency_range", 2),
    "infinite frequency": (TWO + f"1e999 {ROW}\n", "not_finite", 2),
    "overflowing frequency": ("# GHz S RI R 50\n" + f"1e308 {ROW}\n", "not_finite", 2),
    "reference 0": ("# MHz S RI R 0\n" + ROWS_2, "reference", 1),
    "reference negative": ("# MHz S RI R -50\n" + ROWS_2, "reference", 1),
    "reference without number": ("# MHz S RI R\n" + ROWS_2, "option_line", 1),
    "reference not a number": ("# MHz S RI R nan\n" + ROWS_2, "reference", 1),
    "reference complex": ("# MHz S RI R 50+1j\n" + ROWS_2, "complex_reference", 1),
    "reference complex, bracketed": ("# MHz S RI R (50+1j)\n" + ROWS_2, "complex_reference", 1),
    "three references for two ports": ("# MHz S RI R 50 50 50\n" + ROWS_2, "reference", 1),
    "normalised to two references": ("# MHz Z RI R 50 75\n" + ROWS_2, "reference", 1),
    "nothing after the option line": (TWO, "no_data", 2),
    "comments only": ("! a\n! b\n", "no_data", 3),
    "no option line": (ROWS_2, "missing_option_line", 1),
    "no option line, comment first": ("! saved\n" + ROWS_2, "missing_option_line", 2),
    "option line after data": (f"1 {ROW}\n" + TWO, "missing_option_line", 1),
    "unknown unit": ("# THz S RI R 50\n" + ROWS_2, "option_line", 1),
    "unknown parameter": ("# MHz T RI R 50\n" + ROWS_2, "option_line", 1),
    "two parameters glued": ("# MHz SY RI R 50\n" + ROWS_2, "option_line", 1),
    "two units": ("# MHz GHz S RI R 50\n" + ROWS_2, "option_line", 1),
    "three columns": (TWO + "1 .1 .2\n2 .1 .2\n3 .1 .2\n", "row_length", 2),
    "short row": (TWO + f"1 {ROW}\n2 .1 .2 .3 .4\n", "row_length", 3),
    "long row": (TWO + f"1 {ROW}\n2 {ROW} .9\n", "row_length", 3),
    "wrapped two-port": (TWO + "1 .1 .2 .3 .4\n .5 .6 .7 .8\n", "row_length", 2),
    "decimal comma": (TWO + f"1 {ROW}\n2 0,1 .2 .3 .4 .5 .6 .7 .8\n", "decimal_comma", 3),
    "words": (TWO + f"1 {ROW}\n2 .1 oops .3 .4 .5 .6 .7 .8\n", "not_a_number", 3),
    "hexadecimal": (TWO + f"0x1 {ROW}\n", "not_a_number", 2),
    "underscore": (TWO + f"1_0 {ROW}\n", "not_a_number", 2),
    "arabic digits": (TWO + f"\u0661 {ROW}\n", "not_a_number", 2),
    "exponent without digits": (TWO + f"1 {ROW}\n2e {ROW}\n", "not_a_number", 3),
    "exponent alone": (TWO + f"1 {ROW}\nD3 {ROW}\n", "not_a_number", 3),
    "two signs": (TWO + f"1 {ROW}\n2 .1 --2 .3 .4 .5 .6 .7 .8\n", "not_a_number", 3),
    "form feed between numbers": (TWO + f"1\f{ROW} 2\f\n", "row_length", 2),
    "long number": (TWO + f"1.{'0' * 31} {ROW}\n", "number_too_long", 2),
    "keyword of version 2": (TWO + f"1 {ROW}\n[End]\n", "keyword", 3),
    "keyword without version": ("[Number of Ports] 2\n" + TWO + ROWS_2, "version", 1),
    "unknown version": ("[Version] 3.0\n" + TWO + ROWS_2, "version", 1),
    "port impedance that differs": (TWO + f"1 {ROW}\n! Port Impedance 377 0 50 0\n", "port_impedance", 3),
    "noise too high": (TWO + f"1 {ROW}\n2 {ROW}\n3 .7 .6 69 .3\n", "row_length", 4),
    "noise falling": (TWO + f"1 {ROW}\n2 {ROW}\n2 .7 .6 69 .3\n1 .7 .6 69 .3\n", "noise", 5),
    "network after noise": (TWO + f"1 {ROW}\n2 {ROW}\n2 .7 .6 69 .3\n3 {ROW}\n", "noise", 5),
    "nothing measured": (TWO + "1 0 0 0 0 0 0 0 0\n2 0 0 0 0 0 0 0 0\n", "nothing_measured", None),
    "no S-parameters": ("# MHz Z RI R 50\n" + "1 -1 0 0 0 0 0 -1 0\n", "no_s_parameters", 2),
}

VERSION_2 = {
    "count too small": (HEAD_2, ROWS_2 + f"3 {ROW}\n[End]\n", "point_count", 9),
    "count too large": (HEAD_2.replace("cies] 2", "cies] 3"), ROWS_2 + "[End]\n", "point_count", 8),
    "count missing": (HEAD_2.replace("[Number of Frequencies] 2\n", ""), ROWS_2, "keyword", 5),
    "count zero": (HEAD_2.replace("cies] 2", "cies] 0"), ROWS_2, "no_data", 6),
    "count in words": (HEAD_2.replace("cies] 2", "cies] two"), ROWS_2, "keyword", 5),
    "ports missing": (HEAD_2.replace("[Number of Ports] 2\n", ""), ROWS_2, "keyword", 5),
    "ports zero": (HEAD_2.replace("Ports] 2", "Ports] 0"), ROWS_2, "ports", 3),
    "five ports": (HEAD_2.replace("Ports] 2", "Ports] 5"), ROWS_2, "too_many_ports", 3),
    "order missing": (HEAD_2.replace("[Two-Port Data Order] 21_12\n", ""), ROWS_2, "port_order", 5),
    "order unknown": (HEAD_2.replace("21_12", "11_22"), ROWS_2, "port_order", 4),
    "order of three ports": (HEAD_2.replace("Ports] 2", "Ports] 3"), ROWS_2, "port_order", 4),
    "unknown keyword": (HEAD_2 + "[Colour] red\n", ROWS_2, "keyword", 6),
    "keyword twice": (HEAD_2 + "[Number of Ports] 2\n", ROWS_2, "keyword", 6),
    "keyword not closed": (HEAD_2 + "[Reference 50 50\n", ROWS_2, "keyword", 6),
    "reference too short": (HEAD_2 + "[Reference] 50\n", ROWS_2, "reference", 6),
    "reference too long": (HEAD_2 + "[Reference] 50 50\n50 50 50\n", ROWS_2, "reference", 7),
    "reference complex": (HEAD_2 + "[Reference] 50 50+2j\n", ROWS_2, "complex_reference", 6),
    "reference zero": (HEAD_2 + "[Reference] 50 0\n", ROWS_2, "reference", 6),
    "mixed-mode": (HEAD_2 + "[Mixed-Mode Order] D1,2 C1,2\n", ROWS_2, "mixed_mode", 6),
    "matrix unknown": (HEAD_2 + "[Matrix Format] Diagonal\n", ROWS_2, "keyword", 6),
    "data in the head": (HEAD_2 + "1 2 3\n", ROWS_2, "keyword", 6),
    "data after the end": (HEAD_2, ROWS_2 + f"[End]\n3 {ROW}\n", "keyword", 10),
    "network data twice": (HEAD_2, ROWS_2 + "[Network Data]\n[End]\n", "keyword", 9),
    "noise not announced": (HEAD_2, ROWS_2 + "[Noise Data]\n1 .7 .6 69 19\n[End]\n", "noise", 9),
    "noise missing": (HEAD_2 + "[Number of Noise Frequencies] 1\n", ROWS_2 + "[End]\n", "noise", 9),
    "noise miscounted": (
        HEAD_2 + "[Number of Noise Frequencies] 2\n",
        ROWS_2 + "[Noise Data]\n1 .7 .6 69 19\n[End]\n",
        "noise",
        10,
    ),
    "body empty": (HEAD_2, "[End]\n", "no_data", 6),
    "odd row": (HEAD_2, f"1 {ROW} .9\n2 {ROW}\n[End]\n", "row_length", 7),
}


@pytest.mark.parametrize("case", VERSION_1)
def test_version_1(case: str) -> None:
    text, code, line = VERSION_1[case]
    refused(text, "bench.s2p", code, line)


@pytest.mark.parametrize("case", VERSION_2)
def test_version_2(case: str) -> None:
    head, body, code, line = VERSION_2[case]
    refused(touchstone_examples.version_2(head, body, "# MHz S RI R 50"), "bench.ts", code, line)


def test_version_2_without_option_line() -> None:
    refused("[Version] 2.0\n1 2 3\n", "bench.ts", "missing_option_line", 2)
    refused("[Version] 2.0\n[Number of Ports] 2\n", "bench.ts", "no_data", 3)


def test_the_question_names_an_option_line_to_add() -> None:
    error = refused("1000000 .1 .2\n2000000 .1 .2\n", "bench.s1p", "missing_option_line", 1)
    assert "# MHz S RI R 50" in error.detail
    assert error.detail.startswith("Which frequency unit, and which format?")


@pytest.mark.parametrize(
    ("name", "code"), [("a.s5p", "too_many_ports"), ("a.S12P", "too_many_ports"), ("a.s0p", "ports")]
)
def test_port_counts_of_the_name(name: str, code: str) -> None:
    refused(TWO + ROWS_2, name, code)


def test_a_name_that_contradicts_the_file() -> None:
    refused(touchstone_examples.version_2(HEAD_2, ROWS_2, "# MHz S RI R 50"), "a.s1p", "ports")
    refused(TWO + ROWS_2, "a.s1p", "row_length", 2)
    refused(TWO + ROWS_2, "a.s4p", "row_length", 3)


def test_a_one_port_table_is_not_rechopped_into_more_ports() -> None:
    table = TWO + "".join(f"{k} .1 .2\n" for k in range(1, 34))
    for name in ("a.s2p", "a.s3p", "a.s4p"):
        assert refused(table, name, "row_length", 2 if name == "a.s2p" else 3)


def test_a_file_cut_off_in_the_middle_of_a_point() -> None:
    cut = "\n".join(touchstone_examples.FOUR_PORT.splitlines()[:5])
    refused(cut, "a.s4p", "row_length", 3)


def test_ports_that_cannot_be_told_are_asked_for() -> None:
    refused(TWO + "1 .1 .2 .3 .4\n", "bench.txt", "ports_unknown", 2)


def test_size_limits() -> None:
    assert refused(b" " * (8 * 1024 * 1024 + 1), "a.s1p", "too_large").kind == "too_large"
    assert refused(b"", "a.s1p", "empty")
    assert refused(b" \n\t\n", "a.s1p", "empty")
    many = TWO + "".join(f"{k} .1 .2\n" for k in range(1, 50_002))
    assert refused(many, "a.s1p", "too_many_points").kind == "too_large"
    assert refused(TWO + "\n" * 400_001, "a.s1p", "too_many_lines").kind == "too_large"
    refused(TWO + "! " + "x" * 4_095 + "\n1 .1 .2\n", "a.s1p", "line_too_long", 2)
    refused(b"# MHz S RI R 50\n1 .1\0 .2\n", "a.s1p", "binary")
    refused(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a.s1p", "binary")


def test_the_refusal_names_the_role_of_the_file() -> None:
    refused(TWO, "far.s1p", "no_data", 2, role="far_open")
