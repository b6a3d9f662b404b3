"""The number lines of a Touchstone file -> rows that scikit-rf can read, one frequency after the other.

`check_rows_by_line` is the truth: it goes line by line, checks every token and names the line at fault.
`check_plain_rows` passes the usual file (every frequency on one line, no comments between) at a glance, and
answers None at the slightest doubt. Neither keeps a number: scikit-rf reads them from what passes.

A frequency begins on a new line. Lines hold pairs, so only the first line of a frequency has an
odd count of numbers: that keeps a one-port table from being re-chopped into a four-port.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_limits import MAX_NUMBER_CHARACTERS, MAX_POINTS, build_refusal, check_points
from measurements.rf.sweeps.touchstone_header import NUMBER_PATTERN, parse_number

NOISE_NUMBERS = 5
_ALLOWED = b"0123456789eEdD+-. \t\n"
_NOT_SPACE = bytes(byte if byte in b" \t\n" else ord("x") for byte in range(256))
_TOO_LONG = b"x" * (MAX_NUMBER_CHARACTERS + 1)
_FORTRAN_EXPONENT = str.maketrans("dD", "eE")


@dataclass(frozen=True)
class Rows:
    """Lines of numbers: `lines[k]` is line `first + k` of the file (counted from 1)."""

    lines: list[str]
    first: int

    def contents(self) -> Iterator[tuple[int, str]]:
        """Yield (line, content) without comments, blank lines and repeated option lines."""
        for number, line in enumerate(self.lines, self.first):
            content = line.partition("!")[0].strip()
            if content and content[0] != "#":
                yield number, content


@dataclass(frozen=True)
class CheckedRows:
    """Rows that passed. points: how many frequencies; text: their numbers, comments and noise left out.

    starts: the line where each frequency begins; None where the plain check passed them.
    noise_line: the line where the noise block of a version 1 two-port begins, else None.
    """

    points: int
    text: str
    rows: Rows
    starts: list[int] | None = None
    noise_line: int | None = None

    def line_of(self, index: int) -> int:
        """Find the line in which the frequency with this index begins."""
        starts = self.starts or [number for number, _ in self.rows.contents()]
        return starts[index]


def check_rows(rows: Rows, width: int, *, one_line: bool, noise: bool) -> CheckedRows:
    """Check all frequencies of a body.

    width: numbers for one frequency; one_line: they must share one line; noise: a noise block
    may follow. Raises BenchnightError that names the line.
    """
    return check_plain_rows(rows, width) or check_rows_by_line(rows, width, one_line=one_line, noise=noise)


def check_plain_rows(rows: Rows, width: int) -> CheckedRows | None:
    """Pass a body with nothing but rows of `width` words of number characters; None if it is not that.

    A word such as "1e" passes here and fails in scikit-rf: `check_rows_by_line` then names it.
    """
    text = "\n".join(rows.lines)
    try:
        raw = text.encode("ascii")
    except UnicodeEncodeError:
        return None
    if raw.translate(None, _ALLOWED) or _TOO_LONG in raw.translate(_NOT_SPACE):
        return None
    counts = [len(line.split()) for line in rows.lines]
    points = counts.count(width)
    if not points or points + counts.count(0) != len(counts) or points > MAX_POINTS:
        return None
    return CheckedRows(points, text.translate(_FORTRAN_EXPONENT), rows)


def check_rows_by_line(rows: Rows, width: int, *, one_line: bool, noise: bool) -> CheckedRows:
    """Check the same, line by line. Raises BenchnightError that names the line."""
    starts, kept = list[int](), list[str]()
    pending, last = 0, 0.0
    line, noise_line = rows.first, None
    contents = rows.contents()
    for line, content in contents:
        words = content.split()
        if noise and starts and not pending and len(words) == NOISE_NUMBERS:
            _check_noise(line, words, contents, last)
            noise_line = line
            break
        refuse_separators(line, content)
        _check_count(line, len(words), pending, width, one_line)
        values = parse_numbers(line, words)
        kept.append(content)
        if not pending:
            starts.append(line)
            last = values[0]
            check_points(len(starts))
        pending = (pending + len(words)) % width
    if pending:
        raise _miscounted(starts[-1], pending, width, "the file ends in the middle of a frequency")
    return CheckedRows(len(starts), "\n".join(kept).translate(_FORTRAN_EXPONENT), rows, starts, noise_line)


def parse_numbers(line: int, words: list[str]) -> list[float]:
    """Parse the numbers of one line.

    Raises sweep.not_a_number, .not_finite, .decimal_comma, .separator, .number_too_long.
    """
    for word in words:
        if len(word) > MAX_NUMBER_CHARACTERS or not NUMBER_PATTERN.fullmatch(word):
            raise _not_a_number(line, word)
    return [parse_number(word) for word in words]


def refuse_separators(line: int, content: str) -> None:
    """Name a comma or semicolon. Raises sweep.decimal_comma where every one is a decimal mark, else
    sweep.separator."""
    mark = ";" if ";" in content else ","
    if mark not in content:
        return
    if all(_has_decimal_comma(word) for word in content.split() if "," in word or ";" in word):
        return  # `parse_numbers` names the word
    raise _build_separator_refusal(line, mark)


def _build_separator_refusal(line: int, mark: str) -> BenchnightError:
    name = "semicolon" if mark == ";" else "comma"
    return build_refusal(
        "separator",
        f"Line {line} has a {name} between its numbers. The numbers of a Touchstone file are separated by "
        "blanks: export again, or rename the file to .csv if it is a table.",
        line,
    )


def _has_decimal_comma(word: str) -> bool:
    """Tell "0,5" from "0,": a digit follows a decimal comma, and there is no point."""
    digit_follows = word.partition(",")[2][:1].isdigit()
    return digit_follows and "." not in word and bool(NUMBER_PATTERN.fullmatch(word.replace(",", ".", 1)))


def _check_count(line: int, count: int, pending: int, width: int, one_line: bool) -> None:
    """One line brings `count` numbers where `pending` of `width` are already there."""
    if one_line and count != width:
        raise _miscounted(line, count, width, "every frequency stands on one line")
    if not pending and count % 2 == 0:
        raise _miscounted(line, count, width, "a frequency and pairs make an odd count")
    if pending and count % 2 == 1:
        raise _miscounted(line, pending, width, "the next frequency begins here")
    if pending + count > width:
        raise _miscounted(line, pending + count, width, "there are more numbers than the ports need")


def _miscounted(line: int, count: int, width: int, why: str) -> BenchnightError:
    hint = {3: ", as in a one-port file (.s1p)", 9: ", as in a two-port file (.s2p)"}.get(count, "")
    return build_refusal(
        "row_length",
        f"Line {line}: {count} numbers{hint} where one frequency of this file has {width} ({why}). "
        "Check the number of ports in the file name, or export again.",
        line,
    )


def _not_a_number(line: int, word: str) -> BenchnightError:
    shown = word[:MAX_NUMBER_CHARACTERS]
    if len(word) > MAX_NUMBER_CHARACTERS:
        return build_refusal(
            "number_too_long",
            f"'{shown}...' in line {line} has more than {MAX_NUMBER_CHARACTERS} characters. Export again.",
            line,
        )
    if word.lower().lstrip("+-") in ("nan", "inf", "infinity", "1.#inf", "1.#qnan", "1.#ind"):
        return build_refusal(
            "not_finite", f"'{shown}' in line {line} is no measured value. Sweep again and export.", line
        )
    if _has_decimal_comma(word):
        return build_refusal(
            "decimal_comma",
            f"'{shown}' in line {line} has a decimal comma. Touchstone files need decimal points: "
            "set the computer that exports to a decimal point, or export as CSV.",
            line,
        )
    if ";" in word or "," in word:
        return _build_separator_refusal(line, ";" if ";" in word else ",")
    return build_refusal(
        "not_a_number", f"'{shown}' in line {line} is not a number. Export the sweep again.", line
    )


def _check_noise(line: int, words: list[str], rest: Iterator[tuple[int, str]], last: float) -> None:
    """Recognise a noise block: it begins below or at the last network frequency, and rises in rows of five.

    The document says "less than" in one place and "less than or equal" in another: the latter is taken.
    """
    previous = parse_numbers(line, words)[0]
    if previous > last:
        raise _miscounted(line, len(words), 9, "too few for a point, too high a frequency for noise data")
    check_noise_rows(previous, rest)


def check_noise_rows(previous: float, rest: Iterator[tuple[int, str]]) -> int:
    """Check the rows after the first of a noise block; they are not kept. The count of them.

    Raises BenchnightError `sweep.noise` or what `numbers_in` raises.
    """
    count = 0
    for line, content in rest:
        words = content.split()
        values = parse_numbers(line, words)
        if len(words) != NOISE_NUMBERS or values[0] <= previous:
            raise build_refusal(
                "noise",
                f"Line {line} is neither a point of the sweep nor of the noise data "
                "(five numbers, frequencies rising). Send a file with one sweep.",
                line,
            )
        previous = values[0]
        count += 1
    return count
