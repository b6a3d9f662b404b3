"""The sample sweeps are the bytes their script makes, their checksums hold, and they name nobody."""

from __future__ import annotations

import hashlib
import re

import pytest

from tests.fixtures_data import sample_sweeps

NAMES = sample_sweeps.names()
TOUCHSTONE = [name for name in NAMES if not name.endswith(".csv")]


def data(name: str) -> bytes:
    return (sample_sweeps.FOLDER / name).read_bytes()


def test_the_script_makes_the_same_bytes_again() -> None:
    made = sample_sweeps.script().samples()
    assert sorted(made) == NAMES
    for name in NAMES:
        assert made[name] == data(name), name


def test_checksums_hold_and_name_every_sweep() -> None:
    lines = data("SHA256SUMS").decode().splitlines()
    listed = {line.split("  ")[1]: line.split("  ")[0] for line in lines}
    assert sorted(listed) == NAMES
    for name, digest in listed.items():
        assert hashlib.sha256(data(name)).hexdigest() == digest, name


def test_the_script_writes_what_is_committed(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    script = sample_sweeps.script()
    monkeypatch.setattr(script, "HERE", tmp_path)
    script.main()
    for name in [*NAMES, "SHA256SUMS"]:
        assert (tmp_path / name).read_bytes() == data(name), name


def test_provenance_names_every_sweep_and_says_invented() -> None:
    text = data("PROVENANCE.md").decode()
    assert "**invented**" in text
    assert set(re.findall(r"`(\w+\.(?:s1p|s2p|csv))`", text)) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_plain_text_of_401_points(name: str) -> None:
    lines = data(name).decode("ascii").splitlines()
    points = [line for line in lines if line[0].isdigit()]
    assert len(points) == 401
    assert len(lines) == 401 + (1 if name.endswith(".csv") else 3)
    assert b"\r" not in data(name)
    assert b"nan" not in data(name).lower()
    assert not re.search(rb"-0[.,]0+\b(?!\d)", data(name)), "a minus sign in front of zero"


@pytest.mark.parametrize("name", TOUCHSTONE)
def test_comments_are_two_harmless_lines(name: str) -> None:
    comments = [line for line in data(name).decode("ascii").splitlines() if line.startswith("!")]
    assert comments[0] == "! Invented sweep for examples and tests: no real device was measured"
    assert len(comments) == 2
    assert re.fullmatch(r"! [A-Za-z0-9:,. ]{5,40}", comments[1])


def test_the_decimal_comma_table() -> None:
    lines = data("choke_decimal_comma.csv").decode("ascii").splitlines()
    assert lines[0] == "Frequency (MHz);S21 (dB);S21 phase (deg)"
    assert all(re.fullmatch(r"\d+,\d{4};-\d+,\d{4};-?\d+,\d{3}", line) for line in lines[1:])


def test_the_decibel_table() -> None:
    lines = data("choke_db_only.csv").decode("ascii").splitlines()
    assert lines[0] == "frequency_hz,s21_db"
    assert all(re.fullmatch(r"\d+,-\d+\.\d{4}", line) for line in lines[1:])
