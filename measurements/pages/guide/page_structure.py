"""The shape of the guide: a page for each kind of test, a section on it for each method."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from measurements.pages.layout.cautions import Caution

# A small table of the guide: words only, ready to be shown.


@dataclass(frozen=True)
class Table:
    """rows: the first cell of each is its heading."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Sign:
    """One way in which a result is bad: what one sees, what it means, what to do next."""

    sees: str
    means: str
    then: str


@dataclass(frozen=True)
class Section:
    """One method, or the one way of a kind.

    drawn: roles of its drawings, in the order of the steps. bench: what to read on the page about the bench.
    """

    method: str | None
    title: str
    when: str
    drawn: tuple[str, ...]
    parts: tuple[str, ...]
    steps: tuple[str, ...]
    result: tuple[str, ...]
    signs: tuple[Sign, ...]
    tables: tuple[Callable[[], Table], ...] = ()
    watch: tuple[str, ...] = ()
    bench: tuple[str, ...] = ("analyser",)

    @property
    def anchor(self) -> str:
        """Return its place on the page."""
        return self.method or "wiring"


@dataclass(frozen=True)
class MethodChoice:
    """A line of the table that leads to a method: what one has, and which method that calls for."""

    have: str
    method: str


@dataclass(frozen=True)
class Entry:
    """One kind of test.

    picture: method and role of the drawing on the overview. limits: kind and metric of the benchmarks it is
    held against; aim: what the limit is for. signs: bad results whatever the method. leading: methods that
    the page opens; empty for all.
    """

    kind: str
    title: str
    question: str
    wonder: str
    intro: str
    picture: tuple[str | None, str]
    sections: tuple[Section, ...]
    limits: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]
    choices: tuple[MethodChoice, ...] = ()
    result: tuple[str, ...] = ()
    signs: tuple[Sign, ...] = ()
    leading: tuple[str, ...] = ()

    def is_folded(self, section: Section) -> bool:
        """Tell whether the page folds this section away: a method that is not among the leading ones."""
        return bool(self.leading) and section.method not in self.leading


@dataclass(frozen=True)
class Topic:
    """One subject of the page about the bench. drawn: kind, method and role of its drawings."""

    anchor: str
    title: str
    text: tuple[str, ...]
    steps: tuple[str, ...] = ()
    drawn: tuple[tuple[str, str | None, str], ...] = ()
    tables: tuple[Callable[[], Table], ...] = ()


# The shape of what the guide says about a flag.

ALL_KINDS = ("common_mode", "load_match", "insertion_loss", "balance", "in_situ")

CM, LM, IL, BA, AT = ((kind,) for kind in ALL_KINDS)

DC = ("dc",)

CM_IL = ("common_mode", "insertion_loss")


@dataclass(frozen=True)
class FlagHelp:
    """title: the flag in a few words. kinds: where it can appear. see: topic and anchor of its cure."""

    title: str
    words: str
    kinds: tuple[str, ...]
    see: tuple[str, str]
