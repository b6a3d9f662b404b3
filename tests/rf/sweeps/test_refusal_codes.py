"""The list of refusal codes is the code's: none is missing, none is left over, each is provoked by a test."""

from __future__ import annotations

import re
from pathlib import Path

from measurements.rf.sweeps import file_limits

ROOM = Path(file_limits.__file__).parent


def sources() -> list[Path]:
    return sorted(ROOM.glob("*.py"))


def raised() -> set[str]:
    codes = set()
    for path in sources():
        text = path.read_text(encoding="utf-8")
        family = "readings" if path.stem == "typed_readings" else "sweep"
        codes |= {f"{family}.{code}" for code in re.findall(r'(?:refusal|Question)\(\s*"([a-z0-9_]+)"', text)}
        codes |= set(re.findall(r'BenchnightError\(\s*"([a-z_]+\.[a-z0-9_]+)"', text))
    return codes


def test_the_list_is_whole() -> None:
    assert raised() == set(file_limits.REFUSAL_CODES)


def test_every_code_is_provoked_in_a_test() -> None:
    tests = "".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    for code in file_limits.REFUSAL_CODES:
        assert f'"{code.partition(".")[2]}"' in tests or f'"{code}"' in tests, code


def test_meanings_are_sentences() -> None:
    for code, meaning in file_limits.REFUSAL_CODES.items():
        assert re.fullmatch(r"(sweep|readings)\.[a-z0-9_]+", code)
        assert meaning[0].isupper() and meaning[-1] in ".?"
