"""Reads a build as people say it: `12t RG316 FT240-31`, `2 stacked 2.4 inch mix 43 9 turns bifilar`.

Pure: reference data comes in as a `Catalogue`. Each pattern takes its words out of the phrase; words that no
pattern takes are answered as not understood, never dropped. Patterns are general usage, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from measurements.errors import BenchnightError
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.services.designs.phrase_cores import find_named_core, find_part, find_sized_core
from measurements.services.designs.recipes import Catalogue, squeeze_conductor_name

MOST_CHARACTERS = 120
NUMBER_WORDS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}
NUMBER_WORDS |= {"nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14}
NUMBER_WORDS |= {"fifteen": 15, "single": 1, "double": 2, "triple": 3}
MOST_COUNTED = 8  # cores counted without a word for how they lie; more is another number
TAKEN, TAKEN_CORE = "|", "§"
COUNT = rf"(\d{{1,3}}|{'|'.join(NUMBER_WORDS)})"
TURN = r"(?:t|ts|turns?|trns?|tns?|passes|wdg|windings?)"
LENGTH = r"(\d+(?:[.,]\d+)?)"
INCH = r"(?:\"|''|″|-?\s?in(?:ch(?:es)?)?\b)"
FILLERS = frozenset(
    ("a", "an", "and", "at", "for", "from", "i", "in", "made", "of", "on", "over", "the", "to")
)
FILLERS |= {
    "around",
    "core",
    "cores",
    "ferrite",
    "ferrites",
    "ring",
    "rings",
    "toroid",
    "toroids",
    "toroidal",
}
FILLERS |= {"cable", "donut", "through", "thru", "using", "via", "winding", "wire", "wires", "with", "wound"}
FILLERS |= {"x", "×"}


@dataclass
class Phrase:
    """Collect the reading of a phrase. text: the rest, with a mark in place of each part taken.

    understood: (words, meaning). assumed: sentences on what nobody said. unknown: words without a meaning.
    said: parts of the recipe that somebody did say, by name, and `rest`, the other words whole. style_said:
    False where a cable alone names the style.
    """

    text: str
    catalogue: Catalogue
    core: dict[str, Any] = field(default_factory=dict)
    winding: dict[str, Any] = field(default_factory=dict)
    purpose: str | None = None
    principle: str | None = None
    ratio: str | None = None
    separate: int = 1
    understood: list[tuple[str, str]] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    said: dict[str, Any] = field(default_factory=dict)
    style_said: bool = True

    @property
    def recipe(self) -> dict[str, Any]:
        """Collect the parts of a recipe, None or missing where nobody said them."""
        core = {"stacked": 1, **self.core}
        return {
            "purpose": self.purpose,
            "principle": self.principle,
            "ratio": self.ratio,
            "cores": [core] * self.separate,
            "winding": dict(self.winding),
        }

    @property
    def missing(self) -> tuple[str, ...]:
        """Name what a recipe needs and nobody said."""
        core = "part" in self.core or "outer_mm" in self.core
        wanted = (
            ("the core", core),
            ("the mix", not core or "part" in self.core or "mix" in self.core),
            ("the turns", "turns" in self.winding),
            ("the winding (coax, bifilar, ...)", "style" in self.winding),
        )
        return tuple(name for name, said in wanted if not said)

    def take(self, pattern: str, read: Callable[[re.Match[str]], str | None], mark: str = TAKEN) -> bool:
        """Take the first match out of the text that `read` makes sense of; it answers a meaning, or None."""
        for found in re.finditer(pattern, self.text, re.IGNORECASE):
            meaning = read(found)
            if meaning is not None:
                self.text = f"{self.text[: found.start()]}{mark}{self.text[found.end() :]}"
                self.understood.append((found[0].strip(), meaning))
                return True
        return False


def read_build_phrase(text: str, catalogue: Catalogue) -> Phrase:
    """Read a phrase; faults of it are words in `unknown`, never an error.

    Raises BenchnightError `phrase.long` above 120 characters.
    """
    if len(text) > MOST_CHARACTERS:
        raise BenchnightError(
            "phrase.long", f"Describe the build in up to {MOST_CHARACTERS} characters.", field="q"
        )
    phrase = Phrase(" ".join(text.replace("–", "-").split()), catalogue)
    for read in (_read_core, _read_conductor, _read_turns, _read_mix_and_size, _read_style, _read_device):
        read(phrase)
    _read_counts(phrase)
    _finish_core(phrase)
    phrase.said = _collect_said(phrase)
    _assume(phrase)
    rest = re.split(rf"[\s{TAKEN}{TAKEN_CORE},;()./+-]+", phrase.text)
    phrase.unknown = [word for word in rest if word and word.lower() not in FILLERS]
    return phrase


def _collect_said(phrase: Phrase) -> dict[str, Any]:
    """Collect the parts that somebody named, before anything is assumed."""
    parts = {
        "ratio": phrase.ratio,
        "purpose": phrase.purpose,
        "principle": phrase.principle,
        "mix": phrase.core.get("mix"),
        "part": phrase.core.get("part"),
        "outer_mm": None if "part" in phrase.core else phrase.core.get("outer_mm"),
        "turns": phrase.winding.get("turns"),
        "style": phrase.winding.get("style") if phrase.style_said else None,
        "conductor": phrase.winding.get("conductor"),
    }
    words = re.split(rf"[\s{TAKEN}{TAKEN_CORE},;()]+", phrase.text)
    rest = tuple(word for word in words if word and word.lower() not in FILLERS)
    return {**{name: value for name, value in parts.items() if value is not None}, "rest": rest}


def _count(text: str) -> int:
    return NUMBER_WORDS.get(text.lower()) or int(text)


def _read_core(phrase: Phrase) -> None:
    """Read a maker's number, a size name with or without its mix, or a two-hole core's name."""

    def read_part(found: re.Match[str]) -> str | None:
        core = find_part(found[0], phrase.catalogue)
        phrase.core.update(core or {})
        return None if core is None else f"maker's number {core['part']}, mix {core['mix']}"

    def read_name(found: re.Match[str]) -> str | None:
        core = find_named_core(found[1], found[2] or "", found[3], phrase.catalogue)
        phrase.core.update(core or {})
        return (
            None
            if core is None
            else f"ring FT{found[1]}{(found[2] or '').upper()}" + (f", mix {found[3]}" if found[3] else "")
        )

    def read_two_holes(found: re.Match[str]) -> str | None:
        listed = [
            each for each in phrase.catalogue.cores if each.shape == "binocular" and each.mix == found[1]
        ]
        if found[2] != "202" or len(listed) != 1:
            return None
        phrase.core.update({"part": listed[0].part, "shape": "binocular", "mix": found[1]})
        return f"two-hole core, trade size 202, mix {found[1]}"

    mixes = "|".join(mix for mix in phrase.catalogue.mixes if mix.isdigit())
    phrase.take(r"(?<!\d)\d{10}(?!\d)", read_part, TAKEN_CORE)
    mix = rf"(?:\s*[-/#]?\s*(?:mix\s*|material\s*|#)?({mixes})(?!\d)(?!\s*{TURN}\b))?"
    phrase.take(rf"\bft[\s-]?(\d{{2,3}})[\s-]?([ab](?![a-z0-9]))?{mix}(?![a-z0-9])", read_name, TAKEN_CORE)
    phrase.take(r"\bbn[\s-]?(\d{2})[\s-]?(\d{3,4})\b", read_two_holes, TAKEN_CORE)


def _read_conductor(phrase: Phrase) -> None:
    names = {squeeze_conductor_name(name): name for name in phrase.catalogue.conductors}

    def keep(name: str) -> str | None:
        listed = names.get(squeeze_conductor_name(name))
        if listed is not None:
            phrase.winding["conductor"] = listed
        return listed

    def read_cable(found: re.Match[str]) -> str | None:
        listed = keep(f"RG-{found[1]}{found[2].upper()}") or keep(f"RG-{found[1]}")
        if listed is not None and "style" not in phrase.winding:
            phrase.winding["style"], phrase.style_said = "coax", False
        return listed

    def read_gauge(found: re.Match[str]) -> str | None:
        kinds = {"ptfe": "PTFE hook-up wire", "teflon": "PTFE hook-up wire", "pvc": "PVC hook-up wire"}
        words = next((found[name] for name in ("before", "after") if found[name]), "").lower()
        kind = next((long for short, long in kinds.items() if short in words), "enamelled copper")
        if not words:
            return None
        return keep(f"{kind} AWG {found['gauge'] or found['other']}")

    def read_bare_mm(found: re.Match[str]) -> str | None:
        size = (found[1] or found[2]).replace(",", ".")
        return keep(f"enamelled copper {size} mm") or keep(f"enamelled copper {float(size):.1f} mm")

    wire = r"(?:enamell?ed(?: copper)?|magnet|ptfe(?: hook-up)?|teflon|pvc(?: hook-up)?)(?: wire)?"
    phrase.take(r"\brg[\s-]?(\d{1,3})([a-z]{0,2})(?:/u)?\b(?:\s*coax)?", read_cable)
    awg = r"(?:#\s?|awg\s?#?)(?P<gauge>\d{2})|(?P<other>\d{2})\s?(?:awg|gauge|ga)\b"
    phrase.take(rf"(?P<before>{wire}\s+)?(?:{awg})(?P<after>\s+{wire})?", read_gauge)
    phrase.take(rf"{LENGTH}\s?mm\s+{wire}|{wire}\s+{LENGTH}\s?mm", read_bare_mm)
    for pattern, name in (
        (r"\b(?:loud)?speaker (?:wire|cable)\b|\bzip cord\b", "two-wire loudspeaker cable"),
        (
            r"\bcat\s?[56]e?\b(?: (?:pair|wire|cable))?|\bnetwork cable\b|\bethernet\b",
            "twisted pair from network cable",
        ),
    ):
        phrase.take(pattern, lambda _found, name=name: keep(name))  # type: ignore[misc]


def _read_turns(phrase: Phrase) -> None:
    def read_halves(found: re.Match[str]) -> str:
        one, other = int(found[1]), int(found[2])
        phrase.winding["turns"] = one + other
        phrase.winding["split"] = True
        return f"{one + other} turns in two halves"

    def read_turns(found: re.Match[str]) -> str:
        phrase.winding["turns"] = _count(found[1])
        return f"{phrase.winding['turns']} turns"

    def read_beads(found: re.Match[str]) -> str:
        phrase.core.update({"stacked": _count(found[1]), "shape": "bead"})
        phrase.winding.update({"style": "beads_on_coax", "turns": 1})
        return f"{phrase.core['stacked']} beads on the cable"

    phrase.take(rf"\b{COUNT}\s*(?:ferrite\s+)?beads?\b(?:\s+on\s+(?:the\s+)?(?:coax|cable))?", read_beads)
    if phrase.take(rf"\b(\d{{1,2}})\s*\+\s*(\d{{1,2}})\s*{TURN}\b", read_halves):
        return
    phrase.take(rf"\b{COUNT}[\s-]*{TURN}\b", read_turns) or phrase.take(
        r"\bturns?\s*[:=]?\s*(\d{1,3})\b", read_turns
    )


def _read_mix_and_size(phrase: Phrase) -> None:
    mixes = "|".join(mix for mix in phrase.catalogue.mixes if mix.isdigit())

    def read_mix(found: re.Match[str]) -> str | None:
        mix = next(group for group in found.groups() if group)
        if "part" in phrase.core and phrase.core["mix"] != mix:
            return None  # contradicts the core: shown as not understood
        phrase.core["mix"] = mix
        return f"mix {mix}"

    def read_sizes(found: re.Match[str]) -> str:
        scale = 1.0 if not found[4] or found[4].lower() == "mm" else 25.4
        sizes = [round(float(text.replace(",", ".")) * scale, 2) for text in found.groups()[:3]]
        phrase.core.update(zip(("outer_mm", "inner_mm", "height_mm"), sizes, strict=True))
        return f"{sizes[0]:g} mm outside, {sizes[1]:g} inside, {sizes[2]:g} high"

    def read_outer(scale: float) -> Callable[[re.Match[str]], str | None]:
        def read(found: re.Match[str]) -> str | None:
            if "part" in phrase.core or "outer_mm" in phrase.core:
                return None
            phrase.core["outer_mm"] = round(float(found[1].replace(",", ".")) * scale, 2)
            return f"{phrase.core['outer_mm']:g} mm outside"

        return read

    phrase.take(
        rf"\b(?:mix|material|type|#)\s*#?({mixes})\b|#({mixes})\b|\b({mixes})[\s-]*(?:mix|material)\b",
        read_mix,
    )
    three = rf"{LENGTH}\s*(?:mm)?\s*[x×/]\s*{LENGTH}\s*(?:mm)?\s*[x×/]\s*{LENGTH}\s*(mm|{INCH})?"
    phrase.take(three, read_sizes, TAKEN_CORE)
    phrase.take(rf"(?<![\d.,]){LENGTH}\s*{INCH}(?:\s*(?:od|outer)\b)?", read_outer(25.4), TAKEN_CORE)
    phrase.take(rf"(?<![\d.,]){LENGTH}\s*mm\b(?:\s*(?:od|outer)\b)?", read_outer(1.0), TAKEN_CORE)


def _read_style(phrase: Phrase) -> None:
    for pattern, style, meaning in (
        (r"\bbifilar\b", "bifilar", "bifilar"),
        (r"\btrifilar\b", "trifilar", "trifilar"),
        (r"\btwisted(?: pair)?\b", "twisted_pair", "twisted pair"),
        (r"\bparallel(?: (?:wires?|line|pair))?\b", "parallel_wires", "parallel wires"),
        (r"\bsingle wire\b", "single", "single wire"),
        (r"\bcoax(?:ial)?\b", "coax", "coax"),
    ):

        def read(_found: re.Match[str], style: str = style, meaning: str = meaning) -> str:
            phrase.winding["style"], phrase.style_said = style, True
            return meaning

        if phrase.take(pattern, read):
            break

    def read_split(_found: re.Match[str]) -> str:
        phrase.winding["split"] = True
        return "wound in two halves across the core"

    phrase.take(r"\b(?:split(?: winding)?|cross[- ]?over|crossed)\b", read_split)


def _read_device(phrase: Phrase) -> None:
    def read_ratio(found: re.Match[str]) -> str | None:
        try:
            phrase.ratio = format_ratio(parse_ratio(found[0].replace(" ", "")))
        except BenchnightError:
            return None
        return f"ratio {phrase.ratio}"

    phrase.take(r"\b\d{1,3}\s*:\s*\d{1,3}\b", read_ratio)
    for pattern, principle in (
        (r"\b(?:current|guanella)\b", "current"),
        (r"\b(?:voltage|ruthroff)\b", "voltage"),
    ):

        def read_principle(_found: re.Match[str], principle: str = principle) -> str:
            phrase.principle = principle
            return f"{principle} principle"

        phrase.take(pattern, read_principle)
    for pattern, purpose in (
        (r"\b(?:(?:rf|rfi|cm|common[- ]mode|line|feedline) )?(?:choke|isolator)\b", "choke"),
        (r"\bbalun\b", "balun"),
        (r"\bunun\b", "unun"),
    ):

        def read_purpose(_found: re.Match[str], purpose: str = purpose) -> str:
            phrase.purpose = purpose
            return purpose

        if phrase.take(pattern, read_purpose):
            break


def _read_counts(phrase: Phrase) -> None:
    """Read how many cores lie on or beside each other, last: its numbers are nobody else's by now."""

    def read_stacked(found: re.Match[str]) -> str | None:
        if not 1 <= _count(found[1]) <= MOST_COUNTED:
            return None
        phrase.core["stacked"] = _count(found[1])
        return f"{phrase.core['stacked']} stacked"

    def read_separate(found: re.Match[str]) -> str | None:
        if not 1 <= _count(found[1]) <= MOST_COUNTED:
            return None
        phrase.separate = _count(found[1])
        return f"{phrase.separate} separate cores or stacks"

    things = r"(?:cores?|rings?|toroids?|ferrites?)"
    phrase.take(rf"\b{COUNT}\s*separate(?:\s+{things})?\b", read_separate)
    if phrase.core.get("shape") == "bead":
        return
    for pattern in (
        rf"\b(?:stack(?:ed)? of|stacked)\s*{COUNT}\b",
        rf"\b{COUNT}\s*[x×]?\s*(?:{TAKEN_CORE}\s*)?(?:{things}\s*)?stack(?:ed)?\b(?:\s+{things})?",
        rf"\b{COUNT}\s*[x×]?\s*(?={TAKEN_CORE})",
        rf"(?<={TAKEN_CORE})\s*[x×]\s*{COUNT}\b",
        rf"\b{COUNT}\s*[x×]?\s*{things}\b",
    ):
        if phrase.take(pattern, read_stacked):
            return


def _finish_core(phrase: Phrase) -> None:
    """Find the listed ring of an outer diameter and a mix, and say so where heights were chosen for it."""
    if "part" in phrase.core or "outer_mm" not in phrase.core:
        return
    stacked = phrase.core.get("stacked", 1)
    found, assumed = find_sized_core(phrase.core, phrase.catalogue)
    phrase.core = {**found, "stacked": stacked}
    if assumed:
        phrase.assumed.append(assumed)


def _assume(phrase: Phrase) -> None:
    if phrase.purpose is None and phrase.ratio in (None, "1:1"):
        phrase.purpose = "choke"
        phrase.assumed.append("Taken for a choke, because you named no other purpose.")
    if phrase.purpose == "choke" and phrase.ratio is None:
        phrase.ratio = "1:1"
    if phrase.purpose is None:
        phrase.purpose = "balun"
        phrase.assumed.append("Taken for a balun, because it transforms.")
    if phrase.principle is None and phrase.purpose != "unun":
        phrase.principle = "current"
        if phrase.purpose == "balun":
            phrase.assumed.append("Taken for a current balun.")
    if phrase.ratio is None:
        phrase.ratio = "1:1"
        phrase.assumed.append("Taken for 1:1, because you named no ratio.")
