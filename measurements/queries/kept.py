"""Answers to the public, kept in this process until the catalogue changes; the longest unused go first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from measurements.queries import catalogue
from measurements.queries.catalogue import State

MOST_BYTES = 8 * 1024 * 1024
# what an answer takes beside its content (question, headers, objects): thousands of short ones count too
BESIDE_BYTES = 4 * 1024


@dataclass(frozen=True)
class Answer:
    """The content of a reply and the headers that go with it."""

    content: bytes
    headers: tuple[tuple[str, str], ...]


class Kept:
    """One answer to each question, with the state of the catalogue that it was made in; safe for threads."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._answers: OrderedDict[Hashable, tuple[State, Answer]] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def answer(self, question: Hashable, make: Callable[[], Answer | None]) -> Answer | None:
        """The kept answer, or the one that `make` gives now; None from it is not kept.

        The state is read first: what changes while an answer is made is noticed by the next question.
        """
        state = catalogue.state()
        found = self.find(question, state)
        if found is not None:
            return found
        made = make()
        if made is not None:
            self.keep(question, made, state)
        return made

    def has(self, question: Hashable) -> bool:
        """Whether an answer is kept, of whatever state."""
        with self._lock:
            return question in self._answers

    def find(self, question: Hashable, state: State) -> Answer | None:
        """The kept answer of this state of the catalogue."""
        with self._lock:
            made_in, found = self._answers.get(question, (None, None))
            if found is None or made_in != state:
                return None
            self._answers.move_to_end(question)
            return found

    def keep(self, question: Hashable, made: Answer, state: State) -> None:
        """Keeps an answer that was made after `state` was read, unless it would push out too much."""
        size = _size(made)
        if size > self._most_bytes // 8:
            return
        with self._lock:
            _, before = self._answers.pop(question, (None, None))
            self._bytes += size - (_size(before) if before is not None else 0)
            self._answers[question] = state, made
            while self._bytes > self._most_bytes:
                _, (_, oldest) = self._answers.popitem(last=False)
                self._bytes -= _size(oldest)

    def forget(self) -> None:
        """Keeps nothing of what was; for tests, which go back in time."""
        with self._lock:
            self._answers.clear()
            self._bytes = 0


def _size(answer: Answer) -> int:
    return len(answer.content) + BESIDE_BYTES


# one store for both doors, so that one number bounds what a process keeps
PUBLIC = Kept()
