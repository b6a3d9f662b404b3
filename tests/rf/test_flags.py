"""Every flag there is has a code, a severity and a sentence that says what to do, and is raised somewhere."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

import measurements.rf
from measurements.rf.flags import FLAG_CATALOGUE, build_flag, format_megahertz

SOURCES = {
    path.name: path.read_text()
    for path in Path(measurements.rf.__file__).parent.rglob("*.py")
    if path.name not in ("flags.py", "flags_of_wrong_input.py")
}


@pytest.mark.parametrize("code", sorted(FLAG_CATALOGUE))
def test_code_severity_and_sentence(code):
    entry = FLAG_CATALOGUE[code]
    assert re.fullmatch(r"[a-z0-9_]+", code)
    assert entry.severity in ("refuse", "exclude", "note")
    assert entry.message[0].isupper() or entry.message[0] == "{"
    assert entry.message.endswith(".") and "  " not in entry.message
    names = {name for _, name, _, _ in string.Formatter().parse(entry.message) if name}
    filled = build_flag(code, band="40m", **dict.fromkeys(names, "7"))
    assert "{" not in filled.message
    assert filled.as_dict() == {
        "code": code, "severity": entry.severity, "message": filled.message, "band": "40m"
    }  # fmt: skip


@pytest.mark.parametrize("code", sorted(FLAG_CATALOGUE))
def test_every_code_is_raised_somewhere(code):
    assert any(f'"{code}"' in text for text in SOURCES.values())


def test_every_code_that_is_raised_is_in_the_catalogue():
    raised = {code for text in SOURCES.values() for code in re.findall(r'flag\(\s*"([^"]+)"', text)}
    assert raised and raised <= set(FLAG_CATALOGUE)


def test_a_missing_value_or_code_is_a_mistake_of_ours():
    with pytest.raises(KeyError):
        build_flag("jig_limited")
    with pytest.raises(KeyError):
        build_flag("no_such_flag")


def test_frequencies_in_sentences():
    assert (format_megahertz(7.1e6), format_megahertz(5.3515e6)) == ("7.1 MHz", "5.3515 MHz")
