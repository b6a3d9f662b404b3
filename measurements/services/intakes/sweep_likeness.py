"""Tell a file that may be a sweep from a note, a picture or a list that lay in the same folder."""

from __future__ import annotations

import re

_TOUCHSTONE = re.compile(r"\.s\d+p$|\.ts$", re.I)
_SPLIT = re.compile(r"[\s,;]+")
_LEAST_ROWS = 2
_LOOKED_AT = 65_536


def looks_like_sweep(name: str, data: bytes) -> bool:
    """Say whether a file is named as Touchstone or holds rows of at least two numbers.

    A damaged sweep stays a sweep: its reader names the line at fault.
    """
    if _TOUCHSTONE.search(name) or not data:
        return True
    head = data[:_LOOKED_AT]
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        head = head.decode("utf-16", errors="replace").encode()
    if b"\x00" in head:
        return False
    lines = [line.strip() for line in head.decode("utf-8", errors="replace").splitlines()]
    filled = [line for line in lines if line and not line.startswith(("!", "#"))]
    rows = sum(_is_row(line) for line in filled)
    return rows >= _LEAST_ROWS and rows * 2 > len(filled)


def _is_row(line: str) -> bool:
    cells = [cell.strip("\"'") for cell in _SPLIT.split(line) if cell]
    numbers = sum(_is_number(cell) for cell in cells)
    return numbers >= 2 and numbers * 2 > len(cells)


def _is_number(cell: str) -> bool:
    try:
        float(cell.rstrip("ij%") or cell)
    except ValueError:
        return False
    return True
