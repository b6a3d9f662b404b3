"""Refuses passwords that are little more than words which anybody would try at this place."""

from __future__ import annotations

import re
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError

# deploy/SECURITY.md has the same list
WORDS = (
    "balun", "unun", "choke", "ferrite", "toroid", "antenna", "radio", "bench", "night", "lamp", "benchnight",
)  # fmt: skip
LEAST_LEFT = 6  # characters beside such words and beside digits and signs
_WORD = re.compile(r"[^\W\d_]{3,}")
_PLAIN = re.compile(r"[\W\d_]+")


class NotOfLocalWords:
    """A rule in the shape that Django's list of rules for passwords asks for."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raises ValidationError where too little is left without those words."""
        own = [] if user is None else _WORD.findall(user.get_username().casefold())
        words = {*WORDS, *_WORD.findall(settings.BENCHNIGHT_GROUP_NAME.casefold()), *own}
        left = password.casefold()
        for word in sorted(words, key=len, reverse=True):
            left = left.replace(word, " ")
        if left != password.casefold() and len(_PLAIN.sub("", left)) < LEAST_LEFT:
            raise ValidationError(
                "This password is made of words that anybody would try here. Add words of your own.",
                code="password_of_local_words",
            )

    def get_help_text(self) -> str:
        return "Not only words of this trade, of the group or of your name."
