"""CSV dialects read to the same numbers; the values behind them are textbook relations."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.sweeps.reading import read_sweep
from measurements.rf.sweeps.sweep import Sweep


def sweep_of(text: str | bytes, name: str = "bench.csv") -> Sweep:
    return read_sweep(text.encode() if isinstance(text, str) else text, name)


FREQ_HZ = [1.8e6, 7.1e6, 29.7e6]
S21 = 10 ** (np.array([-20.5, -31.25, -12.0]) / 20) * np.exp(1j * np.deg2rad([10.5, -95.0, 170.0]))

ROWS = (("1.8", "-20.5", "10.5"), ("7.1", "-31.25", "-95"), ("29.7", "-12", "170"))
COMPLEX = [(f / 1e6, z) for f, z in zip(FREQ_HZ, S21.tolist(), strict=True)]


def table(names: str, separator: str = ",", decimal: str = ".", quote: str = "", end: str = "") -> str:
    """The three points in MHz, dB and degrees under a line of names."""
    rows = (separator.join(f"{quote}{cell}{quote}" for cell in row).replace(".", decimal) for row in ROWS)
    return "\n".join([names + end, *(row + end for row in rows)]) + "\n"


def in_words(names: str, *columns: list[str]) -> str:
    return "\n".join([names, *(",".join(row) for row in zip(*columns, strict=True))]) + "\n"


MHZ, DB, DEG = ([row[k] for row in ROWS] for k in range(3))
RAD = [repr(float(np.deg2rad(float(cell)))) for cell in DEG]
DIALECTS = {
    "commas": table("Frequency (MHz),S21 (dB),S21 Phase (deg)"),
    "semicolons": table("Freq MHz;S21 dB;Phase deg", ";"),
    "semicolons and decimal commas": table("Freq MHz;S21 dB;Phase deg", ";", ","),
    "tabs": table("freq[MHz]\tdB(S21)\tang(S21) [deg]", "\t"),
    "tabs and decimal commas": table("Freq MHz\tS21 dB\tPhase deg", "\t", ","),
    "spaces": table("Freq(MHz)  S21(dB)  S21(deg)", "   "),
    "spaces and decimal commas": table("Freq(MHz)  S21(dB)  S21(deg)", "  ", ","),
    "spaces before units": table("Freq (MHz) S21 (dB) Phase (deg)", " "),
    "spaces after commas": table("freq MHz, S21 dB, S21 deg", ", "),
    "hertz": in_words("frequency_hz,s21_db,s21_phase_deg", ["1800000", "7100000", "29700000"], DB, DEG),
    "kilohertz": in_words("kHz,S21 log mag,S21 phase", ["1800", "7100", "29700"], DB, DEG),
    "exponents": in_words("Freq. [Hz],S21 LogMag,S21 [°]", ["1.8e6", "7.1E+6", "29.7e6"], DB, DEG),
    "quoted": table('"Frequency, MHz","S21, dB","Phase, deg"', quote='"'),
    "quoted decimal commas": table('"Freq MHz","S21 dB","deg"', decimal=",", quote='"'),
    "comments": "# saved\n! by\n// hand\n" + table("MHz,S21 dB,deg").replace("\n7", "\n\n# half\n7"),
    "commented names": "# sweep\n" + table("# Freq MHz, S21 dB, phase deg"),
    "units in a row of their own": table("Frequency;S21;Phase\nMHz;dB;°", ";"),
    "preamble and END": "Points,3\nBEGIN 1\n" + table("MHz,S21 dB,S21 deg") + "END\n",
    "separator at the end": table("freq MHz;S21 dB;phase deg", ";", end=";"),
    "text column": in_words("freq MHz,S21 dB,phase deg,limit", MHZ, DB, DEG, ["pass", "pass", "fail"]),
    "text with spaces between tabs": table("MHz\tS21 dB\tdeg", "\t", end="\tnot met"),
    "loss": in_words("freq MHz,S21 loss dB,S21 phase deg", MHZ, [cell[1:] for cell in DB], DEG),
    "radians": in_words("freq MHz,S21 dB,S21 phase rad", MHZ, DB, RAD),
    "linear": in_words("freq MHz,|S21|,arg S21 deg", MHZ, [repr(abs(z)) for _, z in COMPLEX], DEG),
    "real and imaginary": "freq MHz,ReS21,ImS21\n" + "".join(f"{f},{z.real},{z.imag}\n" for f, z in COMPLEX),
    "in words": "freq MHz;S21 real;imag\n" + "".join(f"{f};{z.real};{z.imag}\n" for f, z in COMPLEX),
    "true minus signs": table("freq MHz,S21 dB,phase deg").replace("-", "\u2212"),
}


@pytest.mark.parametrize("dialect", DIALECTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_dialects_of_one_sweep(dialect: str, encoding: str) -> None:
    sweep = sweep_of(DIALECTS[dialect].encode(encoding))
    np.testing.assert_allclose(sweep.freq_hz, FREQ_HZ, rtol=1e-12)
    np.testing.assert_allclose(sweep.s[:, 1, 0], S21, rtol=0, atol=1e-12)
    assert sweep.measured.tolist() == [[False, False], [True, False]]
    assert not sweep.magnitude_only
    assert sweep.source == "csv" and sweep.z0_ohm.tolist() == [50, 50]


def test_line_ends_and_latin_1() -> None:
    text = DIALECTS["units in a row of their own"]
    for data in (text.replace("\n", "\r\n").encode("latin-1"), text.replace("\n", "\r").encode("latin-1")):
        np.testing.assert_allclose(sweep_of(data).s[:, 1, 0], S21, atol=1e-12)


def test_resistance_and_reactance() -> None:
    # source: checks, impedance from a VNA: 25, 75, 50-50j and 100+100j ohm, 50 ohm reference
    sweep = sweep_of("Freq MHz,R,X\n1,25,0\n2,75,0\n3,50,-50\n4,100,100\n")
    expected = [-0.333333, 0.2, 0.2 - 0.4j, 0.538462 + 0.307692j]
    np.testing.assert_allclose(sweep.s[:, 0, 0], expected, atol=1e-6)
    assert sweep.ports == 1 and not sweep.magnitude_only


@pytest.mark.parametrize(
    "names", ["Rs (ohm),Xs (ohm)", "Re(Z),Im(Z)", "Resistance Ω,Reactance Ω", "Z real,Z imag"]
)
def test_names_of_impedance(names: str) -> None:
    sweep = sweep_of(f"MHz,{names}\n1,50,50\n2,50,-50\n")
    np.testing.assert_allclose(sweep.s[:, 0, 0], [0.2 + 0.4j, 0.2 - 0.4j], atol=1e-12)


def test_size_and_phase_of_an_impedance() -> None:
    sweep = sweep_of("Freq MHz,|Z|,theta deg\n1,70.71067811865476,45\n2,50,0\n")
    np.testing.assert_allclose(sweep.s[:, 0, 0], [0.2 + 0.4j, 0], atol=1e-12)


def test_swr_alone_gives_a_size_without_phase() -> None:
    # source: checks, table of SWR and reflection (radio-electronics.com; solvefree.com for 1.5)
    sweep = sweep_of("Freq (MHz);SWR\n1;1,1\n2;1,5\n3;2\n4;3\n5;9\n")
    np.testing.assert_allclose(sweep.s[:, 0, 0], [0.047619, 0.2, 0.333333, 0.5, 0.8], atol=1e-6)
    assert sweep.magnitude_only and sweep.measured.tolist() == [[True]]
    assert any("no phase" in note for note in sweep.notes)


def test_return_loss_alone_gives_a_size_without_phase() -> None:
    # source: checks, return loss 1, 10, 20, 30 dB (radio-electronics.com table)
    for sign in ("", "-"):
        sweep = sweep_of(f"Freq MHz,Return Loss (dB)\n1,{sign}1\n2,{sign}10\n3,{sign}20\n4,{sign}30\n")
        np.testing.assert_allclose(sweep.s[:, 0, 0], [0.891, 0.316, 0.100, 0.032], atol=5e-4)
        assert sweep.magnitude_only


def test_decibels_alone() -> None:
    sweep = sweep_of("freq MHz,S21 dB,S11 dB\n1,-20.8279,-3\n2,-34.1514,-3\n")
    # source: checks, series 1000 and 5000 ohm in 50 ohm
    np.testing.assert_allclose(np.abs(sweep.s[:, 1, 0]), [0.090909, 0.019608], atol=1e-6)
    assert sweep.magnitude_only and sweep.measured.tolist() == [[True, False], [True, False]]


def test_the_richest_columns_are_taken_and_the_rest_named() -> None:
    sweep = sweep_of("MHz,SWR,S11 dB,S11 phase deg,R,X\n1,2,-9.54,30,50,0\n2,2,-9.54,30,50,0\n")
    np.testing.assert_allclose(np.abs(sweep.s[:, 0, 0]), 10 ** (-9.54 / 20))
    assert any("not used: reactance, resistance, swr" in note for note in sweep.notes)


def test_sizes_beside_complete_columns_are_left_out_and_named() -> None:
    sweep = sweep_of("MHz,S21 re,S21 im,SWR\n1,.1,.2,1.5\n2,.1,.2,1.5\n")
    assert sweep.measured.tolist() == [[False, False], [True, False]]
    assert not sweep.magnitude_only
    assert "Not used, for want of a phase: S11." in sweep.notes


def test_all_four_parameters_with_zeros_for_what_was_not_driven() -> None:
    names = ",".join(f"{part}S{p}" for p in ("11", "21", "12", "22") for part in ("Re", "Im"))
    sweep = sweep_of(f"freq Hz,{names}\n1000000,.1,.2,.3,.4,0,0,0,0\n2000000,.1,.2,.3,.5,0,0,0,0\n")
    assert sweep.measured.tolist() == [[True, False], [True, False]]
    assert "turned round" in sweep.notes[-1]


def test_three_ports() -> None:
    sweep = sweep_of("MHz,S21 re,S21 im,S31 re,S31 im\n1,.7,0,-.7,0\n2,.7,0,-.7,0\n")
    assert sweep.ports == 3
    assert sweep.measured[:, 0].tolist() == [False, True, True] and not sweep.measured[:, 1:].any()


def test_a_column_of_zeros_is_not_measured() -> None:
    sweep = sweep_of("MHz,S11 re,S11 im,S21 re,S21 im\n1,0,0,.7,0\n2,0,0,.7,.1\n")
    assert sweep.measured.tolist() == [[False, False], [True, False]]
    assert sweep.notes[-1].endswith("not used: S11.")


UNITS = {
    "1000000 to 30000000": ("hz", 1e6),
    "1800000 to 2000000": ("hz", 1.8e6),
    "1 to 30": ("mhz", 1e6),
    "14 to 14.35": ("mhz", 14e6),
    "1000 to 30000": ("khz", 1e6),
    "0.5 to 1500": ("mhz", 0.5e6),
}


@pytest.mark.parametrize("span", UNITS)
def test_a_frequency_unit_that_only_one_reading_fits(span: str) -> None:
    low, high = span.split(" to ")
    sweep = sweep_of(f"freq,SWR\n{low},1.5\n{high},2\n")
    assert sweep.freq_hz[0] == pytest.approx(UNITS[span][1])


def test_the_notes_state_the_guess() -> None:
    notes = sweep_of(DIALECTS["semicolons and decimal commas"]).notes
    assert notes == (
        "CSV: columns separated by semicolon, decimal comma, names in line 1, data from line 2 on, "
        "reference 50 ohm assumed.",
        "Column 1 is the frequency in MHz.",
        "Column 2 is S21 in decibels.",
        "Column 3 is S21 phase in degrees.",
    )
