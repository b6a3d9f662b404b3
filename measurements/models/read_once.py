"""Remember reads, so that parts of a page do not ask the same twice, and requests not for reference data.

Only requests that read open the scope (`pages/layout/rendering.py`); outside it every call reads anew.
`read_once` remembers until the request ends: nobody is ever shown another request's reads. `read_catalogue`
is for what everybody reads alike: it goes on to Django's cache `catalogue`, under a key with the state of the
log. Every write of reference data, settings and releases adds a row to the log in its own transaction, so an
older state is never found again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.core.cache import caches
from django.db.models import Max, Sum
from django.utils import timezone

from measurements.models import group_facts
from measurements.models.operations import CATALOGUE_ACTIONS, AuditEntry
from measurements.rf.analysis import ENGINE_VERSION

Asked = ParamSpec("Asked")
Found = TypeVar("Found")
CatalogueState = tuple[object, ...]

# The sum is there because a row that was written first may be seen last. Rows are written at the end of what
# they tell of, so one that comes late has not been overtaken by so many others.
NEWEST_ENTRIES = 200

_remembered: ContextVar[dict[Any, Any] | None] = ContextVar("remembered", default=None)


@contextmanager
def remember_reads() -> Iterator[None]:
    """Remember the reads of wrapped functions until the block ends."""
    token = _remembered.set({})
    try:
        yield
    finally:
        _remembered.reset(token)


def read_once(function: Callable[Asked, Found]) -> Callable[Asked, Found]:
    """Wrap a read whose arguments are hashable and whose callers do not change the result."""

    @wraps(function)
    def read(*args: Asked.args, **kwargs: Asked.kwargs) -> Found:
        remembered = _remembered.get()
        if remembered is None:
            return function(*args, **kwargs)
        key = (function, args, tuple(sorted(kwargs.items())))
        if key not in remembered:
            remembered[key] = function(*args, **kwargs)
        found: Found = remembered[key]
        return found

    return read


def read_catalogue(function: Callable[Asked, Found]) -> Callable[Asked, Found]:
    """Wrap a read of what a row of the log with one of `CATALOGUE_ACTIONS` changes, and nothing else does.

    The arguments must be all that the result depends on, beside the region and the day.
    """

    def read_kept(*args: Asked.args, **kwargs: Asked.kwargs) -> Found:
        question = (get_catalogue_state(), function.__module__, function.__qualname__, args, kwargs)
        key = hashlib.sha256(repr(question).encode()).hexdigest()
        kept: tuple[Found] | None = caches["catalogue"].get(key)
        if kept is None:
            kept = (function(*args, **kwargs),)
            caches["catalogue"].set(key, kept)
        return kept[0]

    in_scope = read_once(read_kept)

    @wraps(function)
    def read(*args: Asked.args, **kwargs: Asked.kwargs) -> Found:
        chosen = function if _remembered.get() is None else in_scope
        return chosen(*args, **kwargs)

    return read


@read_once
def get_catalogue_state() -> CatalogueState:
    """Read what is equal for as long as nothing of the catalogue changes, in one query.

    The day is part of it, because the band plan goes by it.
    """
    newest = AuditEntry.objects.filter(action__in=CATALOGUE_ACTIONS).order_by("-id")[:NEWEST_ENTRIES]
    rows = newest.aggregate(Max("id"), Sum("id"))
    return (*rows.values(), timezone.localdate(), ENGINE_VERSION, group_facts.get_region())
