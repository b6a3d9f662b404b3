"""What a file's name suggests for its line of the manifest: a first draft that a person corrects.

Names at a bench look like `C-12 choke.s2p`, `AD-4_loss_far open.s1p`, `4to1_B7_match.s1p`: words that
tell kind, method, role or ratio are known. Among the others a tag of the bench is the tag, and two such tags
are none; otherwise the first word with a digit, else the first word. A counter (`VNA_0001`, `SCAN0012`, `7`)
is no tag: it numbers sweeps, not devices. Folders are nights or owners, and tags only where somebody says so.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection
from dataclasses import dataclass, field, replace

from measurements.services.intakes.tag_likeness import fold_tag

_WORD = re.compile(r"[^\s_.,;()\[\]+]+")
_RATIO = re.compile(r"^(\d{1,3})(?:to|zu|x|:)(\d{1,3})$")
_COPY = re.compile(r"^(?:copy|final|new|sweep|test|run|scan|trace|data|\d{4}-?\d{2}-?\d{2}|\d{6,})$", re.I)
_COUNTER = re.compile(r"^[^\W\d]*-?\d{4,}$")  # a word that an analyser numbers: SCAN0012
_NUMBER = re.compile(r"^-?\d+$")

# word -> (field, value); two words in a row are looked up joined first
_WORDS: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("cm", "common", "commonmode", "choke", "choking", "rejection"), ("kind", "common_mode")),
    **dict.fromkeys(("match", "swr", "loadmatch", "vswr"), ("kind", "load_match")),
    **dict.fromkeys(("loss", "il", "insertion", "insertionloss"), ("kind", "insertion_loss")),
    **dict.fromkeys(("balance", "balanced", "cmrr"), ("kind", "balance")),
    **dict.fromkeys(("insitu", "antenna", "feedpoint"), ("kind", "in_situ")),
    **dict.fromkeys(("direct",), ("method", "direct")),
    **dict.fromkeys(("seriesresistor", "series"), ("method", "series_resistor")),
    **dict.fromkeys(("b2b", "backtoback", "back-to-back"), ("method", "back_to_back")),
    **dict.fromkeys(("open", "faropen", "far-open"), ("role", "far_open")),
    **dict.fromkeys(("short", "shorted", "farshort", "far-short"), ("role", "far_short")),
    **dict.fromkeys(("load", "loaded", "farload", "far-load"), ("role", "far_load")),
    **dict.fromkeys(("reversed", "reverse", "rev", "turned"), ("role", "sweep_reversed")),
    **dict.fromkeys(("bypassed", "bypass", "jumper"), ("role", "sweep_bypassed")),
    **{f"{pair}": ("role", f"sweep_{pair}") for pair in ("12", "13", "23")},
    **{pair: ("role", f"pair_{pair}") for pair in ("ab", "ac", "bc")},
}
_PAIR_NUMBERS = ("12", "13", "23")
_FAR = ("far_open", "far_short", "far_load")


FOLDERS = ("people", "contributor", "tag", "nothing")


@dataclass(frozen=True)
class LineGuess:
    """Columns of the manifest; empty where the name says nothing."""

    tag: str = ""
    kind: str = ""
    method: str = ""
    role: str = ""
    ratio: str = ""
    contributor: str = ""


@dataclass(frozen=True)
class KnownNames:
    """What the night knows already. tags: of its devices. people: on its list.

    folders: what the folders of a file are, one of `FOLDERS`; `people`: owners where one is on the list.
    """

    tags: Collection[str] = field(default=())
    people: Collection[str] = field(default=())
    folders: str = "people"


NOTHING_KNOWN = KnownNames()


def guess_line(name: str, known: KnownNames = NOTHING_KNOWN) -> LineGuess:
    """Guess settings from the name of a file; the kind from its ending where nothing else tells."""
    *folders, last = name.replace("\\", "/").split("/")
    stem, _, ending = last.rpartition(".") if "." in last else (last, "", "")
    found, left = _guess_from_words(_WORD.findall(stem))
    found = replace(found, tag=_choose_tag(left, known), contributor=_find_person(left, known))
    return _reconcile_guess(_read_folders(found, folders, known), ending.lower())


def is_counter_name(name: str, tag: str) -> bool:
    """Say whether `tag` is but the words before a number that an analyser gave the file: VNA of VNA_0001."""
    stem = name.rpartition(".")[0] or name
    plain = re.escape(tag.strip())
    return (
        bool(tag) and not any(map(str.isdigit, tag)) and bool(re.match(rf"{plain}[\s_.,-]*\d+", stem, re.I))
    )


def _choose_tag(left: list[tuple[int, str]], known: KnownNames) -> str:
    """Return the one word that may be a tag. left: the words that tell nothing else, each with its place."""
    by_fold = {fold_tag(tag): tag for tag in known.tags}
    joined = [
        f"{word}-{following}"
        for (at, word), (after, following) in itertools.pairwise(left)
        if after == at + 1
    ]
    single = [word for at, word in left if not _is_before_number(at, word, left)]
    listed = {by_fold[fold_tag(word)] for word in [*joined, *single] if fold_tag(word) in by_fold}
    if listed:
        return listed.pop() if len(listed) == 1 else ""
    people = {name.casefold() for name in known.people}
    words = [
        (at, word)
        for at, word in left
        if not _COPY.match(word) and not _NUMBER.match(word) and word.casefold() not in people
    ]
    numbered = [(at, word) for at, word in words if any(map(str.isdigit, word))]
    for at, word in (numbered or words)[:1]:
        if not _COUNTER.match(word) and not _is_before_number(at, word, left):
            return word
    return ""


def _is_before_number(at: int, word: str, left: list[tuple[int, str]]) -> bool:
    """Say whether a word without digits is followed by a bare number, as in VNA_0001."""
    return not any(map(str.isdigit, word)) and any(
        after == at + 1 and _NUMBER.match(following) for after, following in left
    )


def _find_person(left: list[tuple[int, str]], known: KnownNames) -> str:
    by_name = {name.casefold(): name for name in known.people}
    found = {by_name[word.casefold()] for _, word in left if word.casefold() in by_name}
    return found.pop() if len(found) == 1 else ""


def _read_folders(found: LineGuess, folders: list[str], known: KnownNames) -> LineGuess:
    """Take a folder for an owner, or for what the person who hands in says that it is."""
    by_name = {name.casefold(): name for name in known.people}
    if known.folders == "nothing" or not folders:
        return found
    if known.folders == "tag":
        return replace(found, tag=folders[-1])
    if known.folders == "contributor":
        return replace(found, contributor=folders[-1])
    listed = [by_name[folder.casefold()] for folder in reversed(folders) if folder.casefold() in by_name]
    return replace(found, contributor=listed[0]) if listed else found


def _guess_from_words(words: list[str]) -> tuple[LineGuess, list[tuple[int, str]]]:
    """Return what known words tell, and the other words with their places."""
    found = LineGuess()
    left: list[tuple[int, str]] = []
    told_balance = any(_WORDS.get(word.lower()) == ("kind", "balance") for word in words)
    at = 0
    while at < len(words):
        pair = "".join(words[at : at + 2]).lower()
        word = words[at].lower()
        known = _WORDS.get(pair) if at + 1 < len(words) else None
        step = 2 if known else 1
        known = known or _WORDS.get(word)
        if word in _PAIR_NUMBERS and not told_balance:
            known = None  # a plain number, not a pair of a balance test's ports
        ratio = _RATIO.match(word)
        if known is not None:
            column, value = known
            if not getattr(found, column):
                found = replace(found, **{column: value})
        elif ratio is not None:
            found = replace(found, ratio=f"{ratio[1]}:{ratio[2]}")
        else:
            left.append((at, words[at]))
        at += step
    return found, left


def _reconcile_guess(found: LineGuess, ending: str) -> LineGuess:
    """Return kind, method and role made to fit one another."""
    if found.role in _FAR and found.kind in ("", "insertion_loss"):
        # a single load sweep of the input side is the match test; with open and short it is a loss
        if found.role == "far_load" and not found.kind:
            return replace(found, kind="load_match", role="sweep")
        return replace(found, kind="insertion_loss", method="one_port")
    if found.role in _FAR:
        return replace(found, role="sweep")
    if found.role.startswith("pair_"):
        return replace(found, kind="insertion_loss", method="pairs")
    if found.role in ("sweep_12", "sweep_13", "sweep_23"):
        return replace(found, kind=found.kind or "balance")
    if found.role == "sweep_bypassed":
        return replace(found, kind="in_situ")
    by_ending = {"s1p": "load_match", "s2p": "common_mode", "s3p": "balance"}
    kind = found.kind or ("insertion_loss" if found.method else by_ending.get(ending, ""))
    method = found.method if kind == "insertion_loss" else ""
    return replace(found, kind=kind, method=method, role=found.role or "sweep")
