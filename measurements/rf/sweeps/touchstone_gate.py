"""The strict gate: lines of a Touchstone file -> checked numbers, or a refusal that names the line.

Why a gate at all: scikit-rf 2.2 takes, without a word, NaN and infinite values, negative,
descending and repeated frequencies (dropping rows as noise data), R 0, an empty body, a table
without option line (as GHz) and a one-port table in an .s2p (re-chopped). Everything that comes
out of here has passed all of those checks.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, replace

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_limits import build_refusal, check_points
from measurements.rf.sweeps.touchstone_header import (
    Keywords,
    OptionLine,
    build_keyword_refusal,
    build_option_line_question,
    check_port_count,
    parse_keyword,
    parse_option_line,
    read_keywords,
)
from measurements.rf.sweeps.touchstone_rows import (
    CheckedRows,
    Rows,
    check_noise_rows,
    check_rows,
    parse_numbers,
    refuse_separators,
)

# Comments in which a field solver states port impedances, point by point.
#
# A comment is a comment, by the document; but scikit-rf lets these overrule the option line, and a
# file whose comments contradict its option line is no bench sweep.


def check_port_impedances(lines: list[str], references_ohm: tuple[float, ...]) -> None:
    """Refuse comments in which a field solver states other port impedances than the option line.

    scikit-rf lets such comments overrule the option line, point by point.
    """
    for number, line in enumerate(lines, 1):
        if "!" not in line or "port impedance" not in line.lower():
            continue
        words = line.lower().partition("port impedance")[2].split()
        try:
            values = parse_numbers(number, words)
        except BenchnightError:
            continue  # prose about port impedances, not a solver's table
        pairs = zip(values[0::2], values[1::2], strict=False)
        differs = any(
            abs(complex(*pair) - ohm) > 1e-6 * ohm for pair, ohm in zip(pairs, references_ohm, strict=False)
        )
        if len(values) % 2 == 0 and differs:
            raise build_refusal(
                "port_impedance",
                f"A comment in line {number} states a port impedance that differs from the option line. "
                "Export the sweep renormalised to one real reference.",
                number,
            )


TOUCHSTONE_NAME = re.compile(r"\.[syzgh]([0-9]{1,4})p$", re.IGNORECASE)

_AFTER_DATA = ("noise data", "end")

_FIRST_ROWS = {3: 1, 7: 3, 19: 3, 33: 4}


@dataclass(frozen=True)
class CheckedBody:
    """A Touchstone body that passed.

    references_ohm: (P,) real; order: "21_12", "12_21" or "" (one,
    three or four ports); matrix: full, lower or upper; normalised: version 1 data of Z, Y, G or H.
    """

    version: str
    option: OptionLine
    ports: int
    rows: CheckedRows
    references_ohm: tuple[float, ...]
    order: str
    matrix: str
    noise_line: int | None
    notes: tuple[str, ...]

    @property
    def pairs(self) -> int:
        """Count the pairs of numbers of a frequency."""
        return self.ports**2 if self.matrix == "full" else self.ports * (self.ports + 1) // 2

    @property
    def normalised(self) -> bool:
        return self.version < "2" and self.option.parameter != "s"


def read_checked_body(lines: list[str], name: str) -> CheckedBody:
    """Walk the file. name: its file name, for the port count of a version 1 file.

    Raises BenchnightError (field "sweep", with the line) for everything that is not one clean sweep.
    """
    named_ports = _named_ports(name)
    version = ""
    for index, line in enumerate(lines):
        content = line.partition("!")[0].strip()
        if not content:
            continue
        if content[0] == "#":
            return _checked(
                lines, _version_1(lines, index + 1, parse_option_line(content, index + 1), named_ports)
            )
        if content[0] != "[":
            raise build_option_line_question(index + 1)
        if version:
            raise build_keyword_refusal(parse_keyword(content, index + 1)[0], index + 1)
        version = _version(content, index + 1)
        if version >= "2":
            return _checked(lines, _version_2(lines, read_keywords(lines, index + 1, version), named_ports))
    raise build_refusal("no_data", "The file holds nothing but comments. Save the sweep again.", len(lines))


def _checked(lines: list[str], passed: CheckedBody) -> CheckedBody:
    check_port_impedances(lines, passed.references_ohm)
    return passed


def _named_ports(name: str) -> int | None:
    match = TOUCHSTONE_NAME.search(name)
    if not match:
        return None
    check_port_count(int(match[1]), None)
    return int(match[1])


def _version(content: str, line: int) -> str:
    """Return the argument of [Version]; versions 1.0 and 1.1 may have the keyword and need not."""
    keyword, argument = parse_keyword(content, line)
    if keyword != "version":
        raise build_refusal("version", f"Line {line} has [{keyword[:40]}] but no [Version] above it.", line)
    if argument not in ("1.0", "1.1", "2.0", "2.1"):
        raise build_refusal(
            "version",
            f"Version '{argument[:20]}' in line {line} is not known: 1.0, 1.1, 2.0 or 2.1 are. "
            "Export the sweep as version 1.",
            line,
        )
    return argument


def _version_1(lines: list[str], start: int, option: OptionLine, named_ports: int | None) -> CheckedBody:
    """Return everything below the option line is data, then perhaps noise data; start: its index."""
    rows = Rows(lines[start:], start + 1)
    ports = named_ports or _inferred_ports(rows)
    try:
        body = check_rows(rows, 1 + 2 * ports**2, one_line=ports <= 2, noise=ports == 2)
    except BenchnightError as error:
        _refuse_keywords(lines, start, error)
        raise
    _check_body(body, len(lines))
    references = _references(option, ports)
    version = "1.1" if len(option.references_ohm) > 1 else "1.0"
    if option.parameter != "s" and len(set(references)) > 1:
        raise build_refusal(
            "reference",
            f"Line {option.line}: {option.parameter.upper()} data of version 1 are normalised, and with a "
            "different reference for each port nobody says to which. Export S-parameters.",
            option.line,
        )
    order = "21_12" if ports == 2 else ""
    gated = CheckedBody(version, option, ports, body, references, order, "full", body.noise_line, ())
    if named_ports is None:
        return replace(gated, notes=(f"Ports counted from the rows: {ports}.",))
    return gated


def _inferred_ports(rows: Rows) -> int:
    """Return the port count of a version 1 file whose name does not tell, by its first two rows."""
    first_two = list(itertools.islice(rows.contents(), 2))
    for line, content in first_two:
        refuse_separators(line, content)
    counts = [len(content.split()) for _, content in first_two]
    if counts and counts[0] == 9:
        return 4 if counts[1:] == [8] else 2
    if counts and counts[0] in _FIRST_ROWS:
        return _FIRST_ROWS[counts[0]]
    raise build_refusal(
        "ports_unknown",
        "How many ports? The file name does not say and the rows do not tell. "
        "Name the file .s1p, .s2p, .s3p or .s4p.",
        rows.first,
    )


def _references(option: OptionLine, ports: int) -> tuple[float, ...]:
    given = option.references_ohm
    if len(given) not in (1, ports):
        raise build_refusal(
            "reference",
            f"The option line (line {option.line}) gives {len(given)} references for {ports} ports. "
            "It needs one, or one for each port.",
            option.line,
        )
    return given if len(given) == ports else given * ports


def _version_2(lines: list[str], head: Keywords, named_ports: int | None) -> CheckedBody:
    if named_ports not in (None, head.ports):
        raise build_refusal(
            "ports",
            f"The file name says {named_ports} ports and the file says {head.ports}. Rename or export again.",
        )
    stop, noise, notes = _sections(lines, head)
    pairs = head.ports**2 if head.matrix == "full" else head.ports * (head.ports + 1) // 2
    rows = Rows(lines[head.data_start : stop], head.data_start + 1)
    body = check_rows(rows, 1 + 2 * pairs, one_line=False, noise=False)
    _check_body(body, stop)
    if body.points != head.points:
        raise build_refusal(
            "point_count",
            f"[Number of Frequencies] says {head.points}, the data hold {body.points}. "
            "The file is cut off or was edited: export it again.",
            stop,
        )
    references = head.references_ohm or _references(head.option, head.ports)
    return CheckedBody(
        head.version, head.option, head.ports, body, references, head.order, head.matrix, noise, notes
    )


def _sections(lines: list[str], head: Keywords) -> tuple[int, int | None, tuple[str, ...]]:
    """Return (index after the network data, line of [Noise Data] or None, notes); noise rows are checked."""
    marks: list[tuple[str, int]] = []
    for index in range(head.data_start, len(lines)):
        line = lines[index].lstrip()
        if line and line[0] == "[":
            marks.append((parse_keyword(line.partition("!")[0], index + 1)[0], index))
        elif marks and marks[-1][0] == "end" and line.partition("!")[0].strip():
            raise build_refusal("keyword", f"Line {index + 1} stands after [End]. Send one sweep.", index + 1)
    names = [name for name, _ in marks]
    allowed = iter(_AFTER_DATA)
    for name, index in marks:
        if name not in allowed:  # consumes the iterator: each at most once, in this order
            raise build_keyword_refusal(name, index + 1)
    notes = () if "end" in names else ("The file has no [End]; its point count shows that it is whole.",)
    stop = marks[0][1] if marks else len(lines)
    if "noise data" not in names:
        if head.noise_points:
            raise build_refusal("noise", "[Number of Noise Frequencies] is given but no noise data.", stop)
        return stop, None, notes
    end = marks[1][1] if len(marks) > 1 else len(lines)
    _check_noise_section(lines, head, stop, end)
    return stop, stop + 1, notes


def _check_noise_section(lines: list[str], head: Keywords, stop: int, end: int) -> None:
    rows = Rows(lines[stop + 1 : end], stop + 2).contents()
    if head.ports != 2 or not head.noise_points:
        raise build_refusal(
            "noise", f"Line {stop + 1}: noise data that the head does not announce.", stop + 1
        )
    if check_noise_rows(-1.0, rows) != head.noise_points:
        raise build_refusal(
            "noise", f"[Number of Noise Frequencies] says {head.noise_points}; the data differ.", stop + 1
        )


def _check_body(body: CheckedRows, line: int) -> None:
    if not body.points:
        raise build_refusal("no_data", "The file has a head but no data. Save the sweep again.", line)
    check_points(body.points)


def _refuse_keywords(lines: list[str], start: int, error: BenchnightError) -> None:
    """Refuse a bracket in a version 1 body with a better message than "not a number"."""
    if error.line and lines[error.line - 1].lstrip().startswith("[") and error.line > start:
        raise build_refusal(
            "keyword", f"Line {error.line} has a keyword of version 2 in a version 1 file.", error.line
        )
