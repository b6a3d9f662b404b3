"""The head of a Touchstone file: option line and bracketed keywords, read strictly.

Syntax: Touchstone "Rev 1.1" (2002/03, called version 1.0 here), the one-reference-per-port option
line that the 2.1 document calls 1.1, and 2.0 / 2.1 with keywords.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_limits import (
    MAX_NUMBER_CHARACTERS,
    MAX_PORTS,
    build_refusal,
    check_reference,
)

UNITS_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}

NETWORK_PARAMETERS = "syzgh"

NUMBER_FORMATS = ("ma", "db", "ri")

NUMBER_PATTERN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eEdD][+-]?[0-9]+)?")

_COMPLEX = re.compile(r"[-+0-9.e()]*[ij][-+0-9.e()]*", re.IGNORECASE)

_GLUED_REFERENCE = re.compile(r"r(?=[0-9.+-])")  # "R50"

_OHM = re.compile(r"(?:ohms?|\N{GREEK CAPITAL LETTER OMEGA}|\N{OHM SIGN}|\N{GREEK SMALL LETTER OMEGA})$")

EXAMPLE_OPTION_LINE = "# MHz S RI R 50"


@dataclass(frozen=True)
class OptionLine:
    """What the option line says; `references_ohm` has one value, or one per port."""

    unit: str = "ghz"
    parameter: str = "s"
    form: str = "ma"
    references_ohm: tuple[float, ...] = (50.0,)
    line: int = 0


def build_option_line_question(line: int) -> BenchnightError:
    """Return the question to ask where data come before any option line."""
    return build_refusal(
        "missing_option_line",
        "Which frequency unit, and which format? Data begin in line "
        f"{line} but no option line says so. Put one above the first data line, such as "
        f"'{EXAMPLE_OPTION_LINE}' (unit Hz, kHz, MHz or GHz; S; RI, MA or DB; R and the reference in ohm).",
        line,
    )


def parse_option_line(text: str, line: int) -> OptionLine:
    """Parse `# unit parameter format R n ...`, words in any order, each at most once.

    text: the line without comment, beginning with '#'. Raises BenchnightError sweep.option_line,
    sweep.reference, sweep.complex_reference.
    """
    words = _split_option_words(text)
    if any(mark in text for mark in ",;"):
        mark = "a comma" if "," in text else "a semicolon"
        raise _bad_option(line, f"it has {mark}, and its words are separated by blanks")
    found: dict[str, str] = {}
    references: list[float] = []
    position = 0
    while position < len(words):
        word = words[position]
        position += 1
        kind = _kind_of(word, line)
        if kind in found:
            raise _bad_option(line, f"it says both '{found[kind]}' and '{word}'")
        found[kind] = word
        while kind == "reference" and position < len(words) and _looks_numeric(words[position]):
            references.append(parse_reference(words[position], line))
            position += 1
        if kind == "reference" and not references:
            raise _bad_option(line, "R is not followed by a number")
    return OptionLine(
        found.get("unit", "ghz"),
        found.get("parameter", "s"),
        found.get("form", "ma"),
        tuple(references) or (50.0,),
        line,
    )


def _split_option_words(text: str) -> list[str]:
    """Split an option line into lower-case words: "R50" as two, and without the unit in "R 50 Ohm"."""
    words: list[str] = []
    for word in text[1:].lower().split():
        if _GLUED_REFERENCE.match(word):
            words += ["r", word[1:]]
        elif not (_OHM.fullmatch(word) and words and _looks_numeric(words[-1])):
            words.append(word)
    return [_without_unit(word) for word in words]


def _without_unit(word: str) -> str:
    """Take "ohm" off a number that carries it."""
    return _OHM.sub("", word) if word[:1].isdigit() else word


def parse_number(word: str) -> float:
    """Parse a number that matches `NUMBER_PATTERN`; "1.5D3" is 1500, as Fortran programs write it."""
    return float(word.replace("d", "e").replace("D", "e"))


def parse_reference(word: str, line: int) -> float:
    """Return one reference resistance in ohm; complex ones are refused."""
    if len(word) <= MAX_NUMBER_CHARACTERS and NUMBER_PATTERN.fullmatch(word):
        reference_ohm = parse_number(word)
        check_reference(reference_ohm, line)
        return reference_ohm
    if _COMPLEX.fullmatch(word):
        raise build_refusal(
            "complex_reference",
            f"The reference '{word[:MAX_NUMBER_CHARACTERS]}' in line {line} is complex. "
            "Export the sweep with a real reference, such as R 50.",
            line,
        )
    if "," in word or ";" in word:
        mark = "comma" if "," in word else "semicolon"
        raise build_refusal(
            "reference",
            f"The reference '{word[:MAX_NUMBER_CHARACTERS]}' in line {line} has a {mark}. "
            "Write each resistance with a decimal point, and a blank before the next.",
            line,
        )
    raise build_refusal(
        "reference",
        f"The reference '{word[:MAX_NUMBER_CHARACTERS]}' in line {line} is not a number. "
        "Write a resistance in ohm, such as R 50.",
        line,
    )


def _looks_numeric(word: str) -> bool:
    return not word.isalpha() or word in ("nan", "inf", "infinity", "j", "i")


def _kind_of(word: str, line: int) -> str:
    if word in UNITS_HZ:
        return "unit"
    if len(word) == 1 and word in NETWORK_PARAMETERS:
        return "parameter"
    if word in NUMBER_FORMATS:
        return "form"
    if word == "r":
        return "reference"
    raise _bad_option(line, f"'{word[:MAX_NUMBER_CHARACTERS]}' is not a word of an option line")


def _bad_option(line: int, why: str) -> BenchnightError:
    return build_refusal(
        "option_line",
        f"The option line (line {line}) cannot be read: {why}. It should look like '{EXAMPLE_OPTION_LINE}': "
        "unit Hz, kHz, MHz or GHz; S, Y, Z, G or H; RI, MA or DB; R and the reference in ohm.",
        line,
    )


# The bracketed keywords of Touchstone 2.0 and 2.1, up to the first data line.
#
# Order at the head: [Version], option line, [Number of Ports], then the rest, then [Network Data].
# Decisions where the documents disagree (TSIRD 4.1): a file without [End] is read, because its point
# count shows whether it is whole; a two-port without [Two-Port Data Order] is refused, although an
# example in the 2.0 document lacks it: S21 and S12 would be anybody's guess.

_KEYWORD = re.compile(r"\[([^\]]*)\](.*)", re.DOTALL)

_COUNT = re.compile(r"[0-9]{1,9}")


@dataclass(frozen=True)
class Keywords:
    """What the keywords of a 2.x file say, and where its data begin.

    points, noise_points: the counts stated; references_ohm: empty unless [Reference] was given;
    order: "12_21" or "21_12" (two-ports only); data_start: index of the line after [Network Data].
    """

    option: OptionLine
    version: str
    ports: int
    points: int
    noise_points: int | None = None
    references_ohm: tuple[float, ...] = ()
    order: str = ""
    matrix: str = "full"
    data_start: int = 0


@dataclass
class _Head:
    """The keywords met so far: name -> (argument, line)."""

    option: OptionLine | None = None
    said: dict[str, tuple[str, int]] = field(default_factory=dict)
    references_ohm: list[float] = field(default_factory=list)
    in_information: bool = False
    in_reference: bool = False


def parse_keyword(content: str, line: int) -> tuple[str, str]:
    """Return `[Name] argument` -> (name in lower case with single spaces, argument)."""
    match = _KEYWORD.match(content)
    if not match:
        raise build_refusal(
            "keyword", f"The keyword in line {line} has no closing bracket. Export again.", line
        )
    return " ".join(match[1].lower().split()), match[2].strip()


def read_keywords(lines: list[str], start: int, version: str) -> Keywords:
    """Walk the head of a 2.x file from the line after [Version] to [Network Data].

    lines: all lines; start: index of the line after [Version]. Raises BenchnightError that names
    the line: sweep.keyword, sweep.missing_option_line, sweep.option_line, sweep.ports, ...
    """
    head = _Head()
    for index in range(start, len(lines)):
        content = lines[index].partition("!")[0].strip()
        if not content:
            continue
        if content[0] == "[":
            name, argument = parse_keyword(content, index + 1)
            if _take(head, name, argument, index + 1):
                return _finished(head, version, index + 1)
        elif not head.in_information:
            _take_line(head, content, index + 1)
    raise build_refusal("no_data", "The file ends before [Network Data]. Export the sweep again.", len(lines))


def _take(head: _Head, name: str, argument: str, line: int) -> bool:
    """Note one keyword; True where the data begin."""
    if head.in_information:
        head.in_information = name != "end information"
        return False
    head.in_reference = False
    if name == "begin information":
        head.in_information = True
        return False
    if name == "network data":
        return True
    if name == "mixed-mode order":
        raise build_refusal(
            "mixed_mode",
            f"Line {line} says the data are mixed-mode. Export single-ended S-parameters, port by port.",
            line,
        )
    if name in head.said:
        raise build_refusal("keyword", f"Line {line} gives [{name}] a second time. Export again.", line)
    if name not in _ARGUMENTS:
        raise build_refusal(
            "keyword", f"Line {line} has the unknown keyword [{name[:40]}]. Export again.", line
        )
    head.said[name] = (argument, line)
    if name == "reference":
        head.in_reference = True
        _take_references(head, argument, line)
    return False


def _take_line(head: _Head, content: str, line: int) -> None:
    """Read a line of the head that is no keyword: the option line, or more references."""
    if content[0] == "#":
        head.in_reference = False
        if head.option is None:
            head.option = parse_option_line(content, line)
    elif head.in_reference:
        _take_references(head, content, line)
    elif head.option is None:
        raise build_option_line_question(line)
    else:
        raise build_refusal("keyword", f"Line {line} has data before [Network Data]. Export again.", line)


def _take_references(head: _Head, text: str, line: int) -> None:
    words = [_without_unit(word) for word in text.lower().split() if not _OHM.fullmatch(word)]
    head.references_ohm.extend(parse_reference(word, line) for word in words)
    if len(head.references_ohm) > MAX_PORTS:
        raise build_refusal(
            "reference", f"[Reference] gives more than {MAX_PORTS} values (line {line}).", line
        )


def _finished(head: _Head, version: str, line: int) -> Keywords:
    """Return all keywords are in: check that they make one whole. line: the one of [Network Data]."""
    if head.option is None:
        raise build_option_line_question(line)
    ports = _count(head, "number of ports", line)
    check_port_count(ports, head.said["number of ports"][1])
    found = Keywords(head.option, version, ports, _count(head, "number of frequencies", line))
    if found.points == 0:
        raise build_refusal("no_data", "[Number of Frequencies] is 0: there is no sweep in this file.", line)
    if "number of noise frequencies" in head.said:
        found = replace(found, noise_points=_count(head, "number of noise frequencies", line))
    if "reference" in head.said and len(head.references_ohm) != ports:
        at = head.said["reference"][1]
        raise build_refusal(
            "reference",
            f"[Reference] in line {at} gives {len(head.references_ohm)} values for {ports} ports. "
            "It needs one for each port.",
            at,
        )
    return replace(
        found,
        references_ohm=tuple(head.references_ohm),
        order=_order(head, ports, line),
        matrix=_matrix(head),
        data_start=line,
    )


def check_port_count(ports: int, line: int | None) -> None:
    """Raise BenchnightError `sweep.ports` or `sweep.too_many_ports` unless 1 to 4."""
    if ports > MAX_PORTS:
        raise build_refusal(
            "too_many_ports",
            f"The file has {ports} ports; at most {MAX_PORTS} are taken. Export only the ports of this test.",
            line,
        )
    if ports < 1:
        raise build_refusal("ports", "The file says it has no port. Export the sweep again.", line)


def _count(head: _Head, name: str, line: int) -> int:
    if name not in head.said:
        raise build_refusal(
            "keyword", f"[{name}] is missing above line {line}. Export the sweep again.", line
        )
    argument, at = head.said[name]
    if not _COUNT.fullmatch(argument):
        shown = argument[:MAX_NUMBER_CHARACTERS]
        raise build_refusal("keyword", f"[{name}] in line {at} needs a whole number, not '{shown}'.", at)
    return int(argument)


def _order(head: _Head, ports: int, line: int) -> str:
    said = head.said.get("two-port data order")
    if ports != 2:
        if said:
            raise build_refusal(
                "port_order", f"[Two-Port Data Order] in line {said[1]} is for two ports only.", said[1]
            )
        return ""
    if said is None:
        raise build_refusal(
            "port_order",
            "Which comes first, S21 or S12? A two-port file of version 2 must say so: add "
            "'[Two-Port Data Order] 21_12' (S11 S21 S12 S22) or '... 12_21' (S11 S12 S21 S22) "
            f"above line {line}.",
            line,
        )
    if said[0].lower() not in ("12_21", "21_12"):
        raise build_refusal(
            "port_order", f"[Two-Port Data Order] in line {said[1]} must be 12_21 or 21_12.", said[1]
        )
    return said[0].lower()


def _matrix(head: _Head) -> str:
    argument, line = head.said.get("matrix format", ("full", 0))
    if argument.lower() not in ("full", "lower", "upper"):
        raise build_refusal("keyword", f"[Matrix Format] in line {line} must be Full, Lower or Upper.", line)
    return argument.lower()


def build_keyword_refusal(name: str, line: int) -> BenchnightError:
    """Return the refusal for a keyword that may not stand where it stands."""
    return build_refusal(
        "keyword", f"Line {line} has [{name[:40]}], which cannot stand there. Export again.", line
    )


_ARGUMENTS = frozenset(
    {
        "number of ports",
        "two-port data order",
        "number of frequencies",
        "number of noise frequencies",
        "reference",
        "matrix format",
    }
)
