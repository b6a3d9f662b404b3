"""When anything changed that everybody may see, told by one small question.

What the public is shown of designs follows from the release, the list of designs, the reference data and
the group's settings. Every write of those leaves a row in the log, which only grows, in its own transaction:
as long as there is no further such row, the answer to the same question is the same.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from django.db import connection
from django.utils import timezone

from measurements.models import AuditEntry, group_settings
from measurements.models.operations import CATALOGUE_ACTIONS
from measurements.rf.analysis import ENGINE_VERSION

CatalogueState = tuple[object, ...]

# written out, words and all: it is asked with every request, and making the same statement anew costs more
# than asking. The sum is there because a row that was written first may be seen last. Rows are written at the
# end of what they tell of, so one that comes late has not been overtaken by so many others.
NEWEST_ENTRIES = 200

_ACTIONS = ", ".join(f"'{action}'" for action in CATALOGUE_ACTIONS)

STATE_SQL = (
    "SELECT CAST(MAX(id) AS VARCHAR) || ' of ' || CAST(SUM(id) AS VARCHAR) "  # noqa: S608  # words of our own
    f"FROM (SELECT id FROM {AuditEntry._meta.db_table} WHERE action IN ({_ACTIONS}) "
    f"ORDER BY id DESC LIMIT {NEWEST_ENTRIES}) AS newest"
)


def get_catalogue_state() -> CatalogueState:
    """Equal for as long as nothing of the catalogue changes, in one query."""
    with connection.cursor() as cursor:
        cursor.execute(STATE_SQL)
        return build_catalogue_state(cursor.fetchone()[0])


def build_catalogue_state(answer: object) -> CatalogueState:
    """The state where `QUESTION` was answered so, by whoever asks the database something else at once.

    The day is part of it, because the band plan goes by it.
    """
    settings = (
        group_settings.get_thresholds(),
        group_settings.get_region(),
        *group_settings.get_data_terms(),
    )
    return (answer, timezone.now().date(), ENGINE_VERSION, *settings)


# Answers to the public, kept in this process until the catalogue changes; the longest unused go first.

MOST_BYTES = 8 * 1024 * 1024

# what an answer takes beside its content (question, headers, objects): thousands of short ones count too
OVERHEAD_BYTES = 4 * 1024


@dataclass(frozen=True)
class CachedAnswer:
    """The content of a reply and the headers that go with it."""

    content: bytes
    headers: tuple[tuple[str, str], ...]


class AnswerCache:
    """One answer to each question, with the state of the catalogue that it was made in; safe for threads."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._answers: OrderedDict[Hashable, tuple[CatalogueState, CachedAnswer]] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def answer(self, question: Hashable, make: Callable[[], CachedAnswer | None]) -> CachedAnswer | None:
        """The kept answer, or the one that `make` gives now; None from it is not kept.

        The state is read first: what changes while an answer is made is noticed by the next question.
        """
        state = get_catalogue_state()
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

    def find(self, question: Hashable, state: CatalogueState) -> CachedAnswer | None:
        """The kept answer of this state of the catalogue."""
        with self._lock:
            made_in, found = self._answers.get(question, (None, None))
            if found is None or made_in != state:
                return None
            self._answers.move_to_end(question)
            return found

    def keep(self, question: Hashable, made: CachedAnswer, state: CatalogueState) -> None:
        """Keeps an answer that was made after `state` was read, unless it would push out too much."""
        size = _size_bytes(made)
        if size > self._most_bytes // 8:
            return
        with self._lock:
            _, before = self._answers.pop(question, (None, None))
            self._bytes += size - (_size_bytes(before) if before is not None else 0)
            self._answers[question] = state, made
            while self._bytes > self._most_bytes:
                _, (_, oldest) = self._answers.popitem(last=False)
                self._bytes -= _size_bytes(oldest)

    def forget(self) -> None:
        """Keeps nothing of what was; for tests, which go back in time."""
        with self._lock:
            self._answers.clear()
            self._bytes = 0


def _size_bytes(answer: CachedAnswer) -> int:
    return len(answer.content) + OVERHEAD_BYTES


# one store for both doors, so that one number bounds what a process keeps
PUBLIC_ANSWERS = AnswerCache()
