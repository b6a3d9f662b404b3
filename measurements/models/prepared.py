"""Queries whose SQL is made once.

Making a statement out of a QuerySet takes several times as long as asking it. That is worth it for nearly all
reads; not for the few that every upload waits for. Statement, converters and rows are Django's own.
"""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable
from datetime import date
from types import SimpleNamespace
from typing import Any, Generic, TypeVar

from django.db import connections
from django.db.models import QuerySet

Value = str | int | date
Row = TypeVar("Row")


class Prepared(Generic[Row]):
    """A QuerySet of which only values change: `Prepared(lambda key: Device.objects.filter(key=key), str)`.

    make: the query, given a stand-in for each value; they may be compared with columns, and nothing else.
    kinds: the type of each value: str, int or date.
    """

    def __init__(self, make: Callable[..., QuerySet[Any, Row]], *kinds: type[Value]) -> None:
        self._make = make
        self._kinds = kinds
        self._made: dict[str, _Statement] = {}
        self._lock = threading.Lock()

    def all(self, *values: Value) -> list[Row]:
        """The rows, as the QuerySet would give them. Raises TypeError where a value is not of its kind."""
        if len(values) != len(self._kinds) or not all(map(isinstance, values, self._kinds)):
            raise TypeError(f"This query takes {self._kinds}, not {values}.")
        return self._statement().rows(values)

    def first(self, *values: Value) -> Row | None:
        """The first of the rows, None where there is none."""
        return next(iter(self.all(*values)), None)

    def _statement(self) -> _Statement:
        vendor = connections["default"].vendor
        with self._lock:
            if vendor not in self._made:
                stand_ins = tuple(_stand_in(kind, place) for place, kind in enumerate(self._kinds))
                self._made[vendor] = _Statement(self._make(*stand_ins), stand_ins)
            return self._made[vendor]


class _Statement:
    """SQL for one kind of database, and where in its parameters which value goes."""

    def __init__(self, query: QuerySet[Any, Any], stand_ins: tuple[Value, ...]) -> None:
        self._rows = query._iterable_class
        self._fields = getattr(query, "_fields", None)
        self._compiler = query.query.get_compiler(using=query.db)
        self._sql, params = self._compiler.as_sql()
        self._params = tuple(params)
        given = [_as_parameter(self._compiler.connection, value) for value in stand_ins]
        self._places = [(place, given.index(param)) for place, param in enumerate(params) if param in given]
        if {which for _, which in self._places} != set(range(len(stand_ins))):
            raise ValueError(f"A value is lost or changed on its way into {self._sql!r}.")

    def rows(self, values: tuple[Value, ...]) -> list[Any]:
        compiler = copy.copy(self._compiler)
        compiler.connection = connections[compiler.using]  # this thread's
        params = list(self._params)
        for place, which in self._places:
            params[place] = _as_parameter(compiler.connection, values[which])
        compiler.as_sql = lambda *_args, **_kwargs: (self._sql, params)  # type: ignore[method-assign]
        asked = SimpleNamespace(
            db=compiler.using, query=_Asked(compiler), _fields=self._fields, _known_related_objects={}
        )
        return list(self._rows(asked))  # type: ignore[arg-type]


class _Asked:
    """What a QuerySet's iterators ask a query for."""

    def __init__(self, compiler: Any) -> None:
        self._compiler = compiler

    def get_compiler(self, *_args: Any, **_kwargs: Any) -> Any:
        return self._compiler

    def __getattr__(self, name: str) -> Any:
        return getattr(self._compiler.query, name)


def _stand_in(kind: type[Value], place: int) -> Value:
    if kind is str:
        return f"(value {place})"
    return date(1, 1, 1 + place) if kind is date else 31_001 + place  # fits the smallest column


def _as_parameter(connection: Any, value: Value) -> Any:
    return connection.ops.adapt_datefield_value(value) if isinstance(value, date) else value
