"""A guess can be shown, mended, posted back, and is used as confirmed."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.sweeps.csv_columns import Column, parse_column_name
from measurements.rf.sweeps.csv_reading import guess_csv, parse_guess, read_csv

BARE = b"1.8;-20,5;10\n3.5;-25,0;20\n".replace(b"1.8", b"1,8").replace(b"3.5", b"3,5")


def test_a_file_without_names_is_read_once_the_person_has_said() -> None:
    first = guess_csv(BARE)
    assert (first.separator, first.decimal, first.first_line, first.header_line) == (";", ",", 1, 0)
    assert [question.code for question in first.questions] == ["csv_frequency_unit", "csv_no_header"]
    posted = json.loads(json.dumps(first.as_dict()))
    posted["columns"] = [
        {"name": "", "kind": "frequency", "unit": "mhz"},
        {"name": "", "kind": "decibel", "parameter": "s21"},
        {"name": "", "kind": "phase", "parameter": "s21", "unit": "deg"},
    ]
    sweep = read_csv(BARE, parse_guess(posted))
    assert sweep.freq_hz.tolist() == [1.8e6, 3.5e6]
    np.testing.assert_allclose(sweep.s[0, 1, 0], 10 ** (-20.5 / 20) * np.exp(1j * np.deg2rad(10)))


def test_a_settled_guess_survives_the_round_trip() -> None:
    data = b"Freq MHz,S11 dB,phase deg,temp\n1,-3,10,20\n2,-3,20,20\n"
    first = guess_csv(data)
    assert first.questions == ()
    assert [column.kind for column in first.columns] == ["frequency", "decibel", "phase", "ignored"]
    again = parse_guess(json.loads(json.dumps(first.as_dict())))
    assert again == first
    np.testing.assert_array_equal(read_csv(data, again).s, read_csv(data).s)


def test_another_reference() -> None:
    data = b"MHz,R,X\n1,75,0\n2,75,0\n"
    sweep = read_csv(data, replace(guess_csv(data), z0_ohm=75.0))
    assert not sweep.s.any() and sweep.z0_ohm.tolist() == [75]
    assert "reference 75 ohm assumed" in sweep.notes[0]


def test_a_reading_that_a_person_overruled() -> None:
    data = b"MHz,S21 dB\n1,20\n2,30\n"
    first = guess_csv(data)
    assert first.questions[0].code == "csv_sign" and first.questions[0].column == 2
    loss = Column("S21 dB", "loss", "s21")
    sweep = read_csv(data, replace(first, columns=(first.columns[0], loss), questions=()))
    np.testing.assert_allclose(sweep.s[:, 1, 0], [0.1, 10**-1.5])


GOOD = guess_csv(b"MHz,SWR\n1,2\n2,2\n").as_dict()
NONSENSE = {
    "separator": {"separator": "|"},
    "separator not text": {"separator": ["", ","]},
    "decimal": {"decimal": "'"},
    "line 0": {"first_line": 0},
    "line true": {"first_line": True},
    "line beyond": {"first_line": 10**9},
    "header negative": {"header_line": -1},
    "no columns": {"columns": []},
    "columns are text": {"columns": "frequency"},
    "columns are none": {"columns": None},
    "unknown kind": {"columns": [{"kind": "frequency", "unit": "mhz"}, {"kind": "colour"}]},
    "unknown unit": {"columns": [{"kind": "frequency", "unit": "thz"}, {"kind": "swr", "parameter": "s11"}]},
    "unknown parameter": {
        "columns": [{"kind": "frequency", "unit": "mhz"}, {"kind": "swr", "parameter": "s55"}]
    },
    "too many columns": {"columns": [{"kind": "ignored"}] * 65},
    "reference text": {"z0_ohm": "fifty"},
}


@pytest.mark.parametrize("case", NONSENSE)
def test_nonsense_from_a_page_is_refused(case: str) -> None:
    with pytest.raises(BenchnightError) as caught:
        parse_guess(GOOD | NONSENSE[case])
    assert caught.value.code == "sweep.csv_guess"


@pytest.mark.parametrize("ohm", [0.0, -50.0, float("nan"), float("inf")])
def test_a_reference_that_cannot_be_is_refused(ohm: float) -> None:
    with pytest.raises(BenchnightError) as caught:
        parse_guess(GOOD | {"z0_ohm": ohm})
    assert caught.value.code == "sweep.reference"


UNUSABLE = {
    "no frequency": ({"kind": "ignored"}, {"kind": "swr", "parameter": "s11"}),
    "no value": ({"kind": "frequency", "unit": "mhz"}, {"kind": "ignored"}),
    "no unit": ({"kind": "frequency"}, {"kind": "swr", "parameter": "s11"}),
    "no parameter": ({"kind": "frequency", "unit": "mhz"}, {"kind": "decibel"}),
    "no scale": ({"kind": "frequency", "unit": "mhz"}, {"kind": "value", "parameter": "s11"}),
    "transmission as SWR": ({"kind": "frequency", "unit": "mhz"}, {"kind": "swr", "parameter": "s21"}),
}


@pytest.mark.parametrize("case", UNUSABLE)
def test_a_confirmed_guess_that_cannot_be_used_is_refused(case: str) -> None:
    confirmed = parse_guess(GOOD | {"columns": list(UNUSABLE[case])})
    with pytest.raises(BenchnightError) as caught:
        read_csv(b"MHz,SWR\n1,2\n2,2\n", confirmed)
    assert (caught.value.code, caught.value.line) == ("sweep.csv_columns", 1)


def test_a_confirmed_guess_of_another_file_is_refused() -> None:
    confirmed = parse_guess(GOOD)
    for data, code in (
        (b"MHz;SWR\n1;2\n", "row_length"),
        (b"MHz,SWR\n", "no_data"),
        (b"a,b\nc,d\n", "not_a_number"),
    ):
        with pytest.raises(BenchnightError) as caught:
            read_csv(data, confirmed)
        assert caught.value.code == f"sweep.{code}"


NAMES = {
    "Frequency": ("frequency", "", ""),
    "FREQ (GHz)": ("frequency", "", "ghz"),
    "freqMHz": ("frequency", "", "mhz"),
    "Frequenz [kHz]": ("frequency", "", "khz"),
    "f/Hz": ("frequency", "", "hz"),
    "MHz": ("frequency", "", "mhz"),
    "VSWR": ("swr", "s11", ""),
    "SWR (S22)": ("swr", "s22", ""),
    "RL": ("return_loss", "s11", ""),
    "Return Loss(dB)": ("return_loss", "s11", ""),
    "S(2,1) [dB]": ("decibel", "s21", ""),
    "dBS21": ("decibel", "s21", ""),
    "S21_dB": ("decibel", "s21", ""),
    "S21 Log Mag": ("decibel", "s21", ""),
    "S21 gain dB": ("decibel", "s21", "gain"),
    "Insertion loss dB": ("loss", "s21", ""),
    "Attenuation": ("loss", "s21", ""),
    "|S11|": ("magnitude", "s11", ""),
    "magS11 lin": ("magnitude", "s11", "linear"),
    "Rho": ("magnitude", "s11", ""),
    "angS11": ("phase", "s11", ""),
    "Phase(S31) rad": ("phase", "s31", "rad"),
    "∠S21 (°)": ("phase", "s21", "deg"),
    "ReS11": ("real", "s11", ""),
    "Im(S_21)": ("imaginary", "s21", ""),
    "S21": ("value", "s21", ""),
    "R": ("resistance", "s11", ""),
    "Xs (Ω)": ("reactance", "s11", ""),
    "|X|": ("ignored", "", ""),
    "Rp": ("ignored", "", ""),
    "|Z| ohm": ("impedance", "s11", ""),
    "Z phase deg": ("impedance_phase", "s11", "deg"),
    "Power dBm": ("ignored", "", ""),
    "Time": ("ignored", "", ""),
    "": ("ignored", "", ""),
}


@pytest.mark.parametrize("name", NAMES)
def test_names_of_columns(name: str) -> None:
    column = parse_column_name(name)
    assert (column.kind, column.parameter, column.unit) == NAMES[name]
