"""Bytes of a text file -> its lines, whatever the analyser's computer wrote them with.

UTF-8 with or without mark, UTF-16 with mark or recognised by its zero bytes, else Latin-1 (every
byte is a character there, so comments in any old code page survive). Lines end with CR, LF or
CR LF; no other character splits a line, so line numbers agree with an editor's.
"""

from __future__ import annotations

import codecs

from measurements.rf.sweeps.file_limits import MAX_LINE_CHARACTERS, MAX_LINES, build_refusal, check_size


def decode_lines(data: bytes) -> list[str]:
    """Return the lines of a file, without their ends.

    Raises BenchnightError: sweep.empty, sweep.too_large, sweep.binary, sweep.too_many_lines,
    sweep.line_too_long.
    """
    check_size(data)
    text = _without_end_mark(_decode_text(data))
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        raise build_refusal("binary", "This is not a text file. Export the sweep as Touchstone or CSV.")
    if text.count("\n") > MAX_LINES:
        raise build_refusal(
            "too_many_lines", f"The file has more than {MAX_LINES} lines. Send one sweep.", kind="too_large"
        )
    lines = text.split("\n")
    if len(max(lines, key=len)) > MAX_LINE_CHARACTERS:
        _refuse_long_line(lines)
    return lines


def _without_end_mark(text: str) -> str:
    """Cut the Ctrl-Z with which older programs end or pad a file; anywhere else it is a fault."""
    cut = text.rstrip(" \t\r\n\0\x1a")
    return text[: text.index("\x1a", len(cut))] if "\x1a" in text[len(cut) :] else text


def _decode_text(data: bytes) -> str:
    if data.startswith(codecs.BOM_UTF8):
        data = data[len(codecs.BOM_UTF8) :]
    if data.endswith(b"\x1a") and len(data) % 2 and _utf16(data[:-1]):
        data = data[:-1]  # a mark of one byte behind characters of two
    encoding = _utf16(data)
    if encoding:
        try:
            return data.decode(encoding).removeprefix("\ufeff")
        except UnicodeDecodeError:
            raise build_refusal(
                "binary", "The file is broken UTF-16 text. Export it again as plain text."
            ) from None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _utf16(data: bytes) -> str | None:
    """Return the UTF-16 flavour, by its mark, or by a zero in every second of the first bytes."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    head = data[:64]
    if len(head) >= 4 and len(data) % 2 == 0 and head.count(0) * 2 >= len(head) - 2:
        if not any(head[0::2]):
            return "utf-16-be"
        if not any(head[1::2]):
            return "utf-16-le"
    return None


def _refuse_long_line(lines: list[str]) -> None:
    for number, line in enumerate(lines, 1):
        if len(line) > MAX_LINE_CHARACTERS:
            raise build_refusal(
                "line_too_long",
                f"Line {number} has {len(line)} characters; the limit is {MAX_LINE_CHARACTERS}. "
                "Export the sweep with one point in a line.",
                number,
            )
