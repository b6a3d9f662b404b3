"""The list of refusal codes is the code's: none is missing, none is left over, each is provoked by a test."""

from __future__ import annotations

import re
from pathlib import Path

from measurements.rf import refusal_codes

ROOM = Path(refusal_codes.__file__).parent
READERS = ("bounds", "text_lines", "unmeasured", "port_impedances", "reading", "sweep", "turned", "readings")


def sources() -> list[Path]:
    named = [ROOM / f"{name}.py" for name in READERS]
    return named + sorted(ROOM.glob("csv_*.py")) + sorted(ROOM.glob("touchstone*.py"))


def raised() -> set[str]:
    codes = set()
    for path in sources():
        text = path.read_text(encoding="utf-8")
        family = "readings" if path.stem == "readings" else "sweep"
        codes |= {f"{family}.{code}" for code in re.findall(r'(?:refusal|Question)\(\s*"([a-z0-9_]+)"', text)}
        codes |= set(re.findall(r'BenchnightError\(\s*"([a-z_]+\.[a-z0-9_]+)"', text))
    return codes


def test_the_list_is_whole() -> None:
    assert raised() == set(refusal_codes.CODES)


def test_every_code_is_provoked_in_a_test() -> None:
    tests = "".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    for code in refusal_codes.CODES:
        assert f'"{code.partition(".")[2]}"' in tests or f'"{code}"' in tests, code


def test_meanings_are_sentences() -> None:
    for code, meaning in refusal_codes.CODES.items():
        assert re.fullmatch(r"(sweep|readings)\.[a-z0-9_]+", code)
        assert meaning[0].isupper() and meaning[-1] in ".?"
