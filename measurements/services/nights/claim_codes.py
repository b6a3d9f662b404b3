"""Codes on guests' cards: easy to read out and type, and told from a typing slip before any is looked up.

Three groups of four, from the letters and digits that nobody mistakes for another (`models.keys`). The
last one is a check (Luhn's algorithm over 30 symbols): it catches every single wrong symbol and nearly
every swap of two neighbours.
"""

from __future__ import annotations

import secrets

from measurements.errors import BenchnightError
from measurements.services.operations import secret_hashes

ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"
LENGTH = 12  # 11 drawn: 30**11 is 1.8e16, and guesses are counted
GROUP = 4


def generate_code() -> str:
    """Return a fresh code as printed: abcd-efgh-jkmn."""
    drawn = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH - 1))
    code = drawn + _compute_check_symbol(drawn)
    return "-".join(code[start : start + GROUP] for start in range(0, LENGTH, GROUP))


def parse_code(typed: str) -> str:
    """Return a typed code without dashes, spaces and capitals.

    Raises BenchnightError `guest.code_mistyped` where it cannot be one.
    """
    code = "".join(char for char in typed.lower() if char.isalnum())
    known = len(code) == LENGTH and set(code) <= set(ALPHABET)
    if not known or _compute_check_symbol(code[:-1]) != code[-1]:
        raise BenchnightError(
            "guest.code_mistyped",
            f"This is not a claim code: it has {LENGTH} letters and digits in groups of {GROUP}, and one "
            "of them may be mistyped. Compare it with the card.",
            field="code",
        )
    return code


def hash_code(code: str) -> str:
    """Hash a code for storage. It is long and random, so a plain hash gives nothing to guess at."""
    return secret_hashes.hash_secret(parse_code(code))


def list_code_hashes(code: str) -> tuple[str, ...]:
    """List the hashes under which a typed code may be stored. Raises as `parse_code`."""
    return secret_hashes.list_hashes(parse_code(code))


def _compute_check_symbol(drawn: str) -> str:
    """Return Luhn mod N (Hans Peter Luhn, US patent 2 950 048, there for 10 symbols)."""
    base, total = len(ALPHABET), 0
    for place, char in enumerate(reversed(drawn)):
        value = ALPHABET.index(char) * (2 if place % 2 == 0 else 1)
        total += value // base + value % base
    return ALPHABET[-total % base]
