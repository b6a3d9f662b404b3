"""What a file's name suggests for its line of the manifest: a first draft that a person corrects.

Names at a bench look like `C-12 choke.s2p`, `AD-4_loss_far open.s1p`, `4to1_B7_match.s1p`: words that
tell kind, method, role or ratio are known; the first word that tells none of them is taken for the tag.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

_WORD = re.compile(r"[^\s_.,;()\[\]+]+")
_RATIO = re.compile(r"^(\d{1,3})(?:to|zu|x|:)(\d{1,3})$")
_COPY = re.compile(r"^(?:copy|final|new|sweep|test|run|scan|trace|data|\d{4}-?\d{2}-?\d{2}|\d{6,})$")

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
_FAR = ("far_open", "far_short", "far_load")


@dataclass(frozen=True)
class LineGuess:
    """Columns of the manifest; empty where the name says nothing."""

    tag: str = ""
    kind: str = ""
    method: str = ""
    role: str = ""
    ratio: str = ""


def guess_line(name: str) -> LineGuess:
    """Guess settings from the name of a file; the kind from its ending where nothing else tells."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    stem, _, ending = last.rpartition(".") if "." in last else (last, "", "")
    found = _guess_from_words(_WORD.findall(stem))
    return _reconcile_guess(found, ending.lower())


def _guess_from_words(words: list[str]) -> LineGuess:
    found = LineGuess()
    at = 0
    while at < len(words):
        pair = "".join(words[at : at + 2]).lower()
        word = words[at].lower()
        known = _WORDS.get(pair) if at + 1 < len(words) else None
        step = 2 if known else 1
        known = known or _WORDS.get(word)
        ratio = _RATIO.match(word)
        if known is not None:
            field, value = known
            if not getattr(found, field):
                found = replace(found, **{field: value})
        elif ratio is not None:
            found = replace(found, ratio=f"{ratio[1]}:{ratio[2]}")
        elif not found.tag and not _COPY.match(word):
            found = replace(found, tag=words[at])
        at += step
    return found


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
