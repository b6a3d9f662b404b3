"""What analysers and older programs write beside the document is read; commas and semicolons are named."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.sweeps.reading import is_touchstone, read_sweep
from tests.rf.sweeps import touchstone_examples
from tests.rf.sweeps.refusals import refused

ROW = ".1 .2 .3 .4 .5 .6 .7 .8"
OPTION = "# MHz S RI R 50\n"
BODY = f"1 {ROW}\n2 {ROW}\n"
RIGHT = read_sweep((OPTION + BODY).encode(), "a.s2p")


def assert_alike(found, z0_ohm=(50.0, 50.0)) -> None:
    np.testing.assert_array_equal(found.freq_hz, RIGHT.freq_hz)
    np.testing.assert_array_equal(found.s, RIGHT.s)
    assert found.z0_ohm.tolist() == list(z0_ohm)


@pytest.mark.parametrize(
    "option",
    [
        "# MHz S RI R50",
        "# mhz s ri r50.0",
        "#MHz S RI R50",
        "# R50 MHz S RI",
        "# MHz S RI R 50 Ohm",
        "# MHz S RI R 50 ohms",
        "# MHz S RI R 50 OHM ! saved",
        "# MHz S RI R 50Ohm",
        "# MHz S RI R50Ohm",
        "# MHz S RI R 50 \N{GREEK CAPITAL LETTER OMEGA}",
        "# MHz S RI R 50\N{OHM SIGN}",
        "# MHz R 50 Ohm S RI",
        "# MHz S RI R 5.0D1",
        "# MHz S RI R 50 50",
        "# MHz S RI R50 50",
        "# MHz S RI R 50 Ohm 50 Ohm",
    ],
)
@pytest.mark.parametrize("name", ["a.s2p", "a.txt"])
def test_the_reference_as_it_is_written(option, name):
    if option.startswith("#MHz") and name == "a.txt":
        name = "a.ts"  # without a blank behind it, '#' may begin a comment of a table
    data = f"{option}\n{BODY}".encode()
    assert is_touchstone(data, name)
    assert_alike(read_sweep(data, name))


def test_references_of_version_2_with_their_unit():
    head = "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 2\n"
    text = touchstone_examples.version_2(head + "[Reference] 50 Ohm 75Ohm\n", BODY + "[End]\n", "# MHz S RI")
    assert_alike(read_sweep(text.encode(), "a.ts"), (50.0, 75.0))


@pytest.mark.parametrize(
    ("option", "code"),
    [
        ("# MHz S RI Ohm", "option_line"),
        ("# MHz S RI 50 Ohm", "option_line"),
        ("# MHz S RI R Ohm", "option_line"),
        ("# MHz S RI R50x", "reference"),
        ("# MHz S RI Rx", "option_line"),
        ("# MHz S RI R0", "reference"),
        ("# MHz S RI R-50 Ohm", "reference"),
    ],
)
def test_an_ohm_or_a_number_without_its_r_is_refused(option, code):
    refused(f"{option}\n{BODY}", "a.s2p", code, 1)


@pytest.mark.parametrize("end", ["\x1a", "\x1a\r\n", "\n\x1a\x1a\x1a", "\x1a\0\0\0", " \x1a \n"])
@pytest.mark.parametrize("encoding", ["ascii", "utf-8-sig", "utf-16", "latin-1"])
def test_a_ctrl_z_at_the_end(end, encoding):
    assert_alike(read_sweep((OPTION + BODY + end).encode(encoding), "a.s2p"))


def test_a_ctrl_z_of_one_byte_behind_characters_of_two():
    assert_alike(read_sweep((OPTION + BODY).encode("utf-16") + b"\x1a", "a.s2p"))
    assert_alike(read_sweep((OPTION + BODY).encode("utf-16-le") + b"\x1a", "a.s2p"))


def test_a_ctrl_z_at_the_end_of_a_table():
    table = "frequency_hz,s11_re,s11_im,s21_re,s21_im\n1e6,.1,.2,.3,.4\n2e6,.1,.2,.3,.4\n"
    plain, ended = (read_sweep(text.encode(), "a.csv") for text in (table, table + "\x1a"))
    np.testing.assert_array_equal(plain.s, ended.s)


def test_a_ctrl_z_among_the_numbers_is_named():
    refused(OPTION + f"1 {ROW}\n2 {ROW}\n3 .1 \x1a .3 .4 .5 .6 .7 .8\n4 {ROW}\n", "a.s2p", "not_a_number", 4)


@pytest.mark.parametrize("comment", ["", "! a comment, with a comma; and more\n"])
@pytest.mark.parametrize("mark", ["D", "d"])
def test_exponents_of_fortran_programs(mark, comment):
    row = f"1.0{mark}-01 2.0{mark}-1 0.03{mark}+1 40{mark}-2 5{mark}-01 .6{mark}0 .7{mark}+00 8{mark}-01"
    text = f"{OPTION}{comment}1{mark}0 {row}\n0.2{mark}1 {row}\n{comment}"
    found = read_sweep(text.encode(), "a.s2p")
    np.testing.assert_allclose(found.s, RIGHT.s, atol=1e-15)
    np.testing.assert_array_equal(found.freq_hz, RIGHT.freq_hz)


def test_exponents_of_fortran_programs_in_a_table():
    table = "frequency_hz,s11_re,s11_im\n1.0D6,1D-1,2d-1\n2.0D6,1D-1,2d-1\n"
    found = read_sweep(table.encode(), "a.csv")
    assert found.freq_hz.tolist() == [1e6, 2e6]
    np.testing.assert_allclose(found.s[:, 0, 0], 0.1 + 0.2j)


@pytest.mark.parametrize(("mark", "name"), [(",", "comma"), (";", "semicolon")])
@pytest.mark.parametrize("blank", ["", " ", "\t"])
@pytest.mark.parametrize("file_name", ["a.s2p", "a.ts"])
def test_separators_between_numbers_are_named(mark, name, blank, file_name):
    body = BODY.replace(" ", mark + blank)
    assert name in refused(OPTION + body, file_name, "separator", 2).detail


def test_a_separator_below_sound_lines_is_named_with_its_line():
    refused(OPTION + BODY + f"3 {ROW.replace(' ', ', ')}\n", "a.s2p", "separator", 4)
    error = refused(OPTION + BODY + f"3 {ROW};\n", "a.s2p", "separator", 4)
    assert "semicolon" in error.detail


def test_separators_of_one_port_and_version_2():
    refused("# MHz S RI R 50\n1;.1;.2\n", "a.s1p", "separator", 2)
    refused("# MHz S RI R 50\n1,.1,.2\n", "a.s1p", "separator", 2)
    head = "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 2\n"
    text = touchstone_examples.version_2(head, BODY.replace(" ", ", ") + "[End]\n", "# MHz S RI")
    refused(text, "a.ts", "separator", 7)


@pytest.mark.parametrize("row", ["1, 0, 0", "1,0,0", "1 , 0 , 0", "1;0;0", "1, 0.5, 0", "1 0,5; 0,2"])
def test_separators_between_whole_numbers(row):
    refused(f"# MHz S RI R 50\n{row}\n", "a.s1p", "separator", 2)


def test_separators_in_noise_data():
    noise = "2, .7, .64, 69, .38\n18, 2.7, .46, -33, .40\n"
    refused(OPTION + BODY + noise, "a.s2p", "separator", 4)
    refused(OPTION + BODY + noise.replace(",", "", 4), "a.s2p", "separator", 5)


@pytest.mark.parametrize("row", ["1 0,1 0,2", "1,5 0,1 0,2", "1 -0,1 1,5e-3"])
def test_a_decimal_comma_is_not_taken_for_a_separator(row):
    refused(f"# MHz S RI R 50\n{row}\n", "a.s1p", "decimal_comma", 2)


@pytest.mark.parametrize(
    ("option", "name"),
    [
        ("# MHz, S, RI, R 50", "comma"),
        ("# MHz S RI R 50,0", "comma"),
        ("# MHz; S; RI; R 50", "semicolon"),
        ("# MHz,S,RI,R,50", "comma"),
    ],
)
def test_separators_in_the_option_line_are_named(option, name):
    assert name in refused(f"{option}\n{BODY}", "a.s2p", "option_line", 1).detail


def test_separators_between_references_are_named():
    head = "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 2\n"
    text = touchstone_examples.version_2(head + "[Reference] 50, 75\n", BODY + "[End]\n", "# MHz S RI")
    assert "comma" in refused(text, "a.ts", "reference", 6).detail
