"""Answers to the public, kept in this process until the catalogue changes; the longest unused go first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from measurements.queries import catalogue

MOST_BYTES = 8 * 1024 * 1024


@dataclass(frozen=True)
class Answer:
    """The content of a reply and the headers that go with it."""

    content: bytes
    headers: tuple[tuple[str, str], ...]


class Kept:
    """Answers under the question and the state of the catalogue; safe for threads."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._answers: OrderedDict[Hashable, Answer] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def answer(self, question: Hashable, make: Callable[[], Answer | None]) -> Answer | None:
        """The kept answer, or the one that `make` gives now; None from it is not kept.

        The state is read first: what changes while an answer is made is noticed by the next question.
        """
        key = (question, catalogue.state())
        with self._lock:
            found = self._answers.get(key)
            if found is not None:
                self._answers.move_to_end(key)
                return found
        made = make()
        if made is not None:
            self._put(key, made)
        return made

    def forget(self) -> None:
        """Keeps nothing of what was; for tests, which go back in time."""
        with self._lock:
            self._answers.clear()
            self._bytes = 0

    def _put(self, key: Hashable, made: Answer) -> None:
        with self._lock:
            if key in self._answers or len(made.content) > self._most_bytes // 8:
                return
            self._answers[key] = made
            self._bytes += len(made.content)
            while self._bytes > self._most_bytes:
                _, oldest = self._answers.popitem(last=False)
                self._bytes -= len(oldest.content)


# one store for both doors, so that one number bounds what a process keeps
PUBLIC = Kept()
