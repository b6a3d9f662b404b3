"""Compare tags as people write them: the same but for separators, or so alike that one may be a slip.

A slip is a symbol mistaken for another of its shape (0 and O, 1 and l), a zero too many or too few, two
neighbours swapped, or one letter wrong, missing or too many. Other digits make another device: NB-12, NB-13
and NB-21 lie on one bench. The list of shapes is from memory, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

_SEPARATORS = re.compile(r"[\s_./\\-]+")
_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_ZERO_LED = re.compile(r"(?<!\d)0\d")
_SHAPES = str.maketrans({"0": "o", "1": "l", "i": "l", "|": "l", "!": "l", "5": "s", "8": "b", "2": "z"})
_LEAST_LETTERS = 2  # one wrong letter of one is another series: C-1 and D-1


def fold_tag(tag: str) -> str:
    """Write a tag in lower case with one hyphen for any separator: NB_01 and `nb 01` are nb-01."""
    return _SEPARATORS.sub("-", tag.strip()).strip("-").casefold()


def is_close_tag(typed: str, known: str) -> bool:
    """Say whether `typed`, which is another tag than `known`, may be a slip for it."""
    one, other = fold_tag(typed), fold_tag(known)
    return bool(one and other) and one != other and rank_closeness(typed, known) > 0


def rank_closeness(typed: str, known: str) -> int:
    """Rank how close two tags are: 3 the same but for separators, 2 of one shape, 1 one slip, 0 not close."""
    one, other = fold_tag(typed), fold_tag(known)
    if one == other:
        return 3
    if _get_shapes(one) & _get_shapes(other):
        return 2
    return int(_is_one_slip(one.replace("-", ""), other.replace("-", "")))


def find_closest_tags(typed: str, known: Iterable[str]) -> list[str]:
    """Return the closest of the known tags, each once; several where no one is closer than the others."""
    ranked = {tag: rank_closeness(typed, tag) for tag in known}
    best = max(ranked.values(), default=0)
    return sorted(tag for tag, rank in ranked.items() if rank == best and best > 0)


def _get_shapes(folded: str) -> set[str]:
    """Return the tag without separators in one symbol per shape, with and without leading zeros."""
    plain = folded.replace("-", "")
    short = _LEADING_ZEROS.sub("", folded).replace("-", "")
    return {plain.translate(_SHAPES), short.translate(_SHAPES)}


def _is_one_slip(one: str, other: str) -> bool:
    """Say whether one swap, or one wrong, missing or extra letter, makes one text the other."""
    if len(one) == len(other):
        differing = [at for at, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
        if len(differing) == 2 and differing[1] == differing[0] + 1:
            first, second = differing
            swapped = one[first] == other[second] and one[second] == other[first]
            return swapped and not one[first : second + 1].isdigit()
        if len(differing) != 1:
            return False
        pair = one[differing[0]] + other[differing[0]]
        return not pair.isdigit() and _has_letters(one) and _has_letters(other)
    short, long = sorted((one, other), key=len)
    if len(long) - len(short) != 1:
        return False
    at = next((at for at, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    if short[at:] != long[at + 1 :]:
        return False
    if long[at].isdigit():
        # NB-1 and NB-11 are two devices; NB-011 beside NB-01 has a zero before it and is none of a series
        return bool(_ZERO_LED.search(one) and _ZERO_LED.search(other))
    return _has_letters(long)


def _has_letters(text: str) -> bool:
    return sum(char.isalpha() for char in text) >= _LEAST_LETTERS
