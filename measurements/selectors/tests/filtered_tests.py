"""Which tests somebody asks for: by kind, device, night, state and flag, in an order, a page at a time.

Filters narrow what `tests.build_test_visibility` lets the viewer see. A device or a night that the viewer may
not see finds nothing, as one that does not exist.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import BooleanField, Exists, Func, OuterRef, Q, QuerySet, Value

from measurements.errors import BenchnightError
from measurements.models import PublishedVote, Result, Test, check_standards
from measurements.rf.analysis import KINDS
from measurements.rf.flags import FLAG_CATALOGUE

STATES = ("counts", "left_out", "published", "waiting", "excluded")
NEWEST_FIRST = "-recorded_at"
ORDERS = (NEWEST_FIRST, "recorded_at", "-measured_on", "measured_on")
FLAGS = tuple(code for code, entry in FLAG_CATALOGUE.items() if entry.severity != "refuse")


@dataclass(frozen=True)
class TestFilters:
    """Filters of a list of tests; empty words ask for everything. device, night: keys. order: of `ORDERS`."""

    __test__ = False

    kind: str = ""
    device: str = ""
    night: str = ""
    state: str = ""
    flag: str = ""
    order: str = NEWEST_FIRST


def check_filters(asked: TestFilters) -> None:
    """Refuse an unknown choice. Raises BenchnightError `filter.unknown` naming its field."""
    for name, known in (("kind", KINDS), ("state", STATES), ("flag", FLAGS), ("order", ORDERS)):
        given = getattr(asked, name)
        if given and given not in known:
            raise BenchnightError(
                "filter.unknown", f"There is no {name} {given[:32]!r}; known: {', '.join(known)}.", field=name
            )


def filter_tests(rows: QuerySet[Test, Any], asked: TestFilters) -> QuerySet[Test, Any]:
    """Narrow tests to those asked for. Raises BenchnightError `filter.unknown`."""
    check_filters(asked)
    for field, value in (
        ("kind", asked.kind),
        ("device__key", asked.device),
        ("night__key", asked.night),
    ):
        if value:
            rows = rows.filter(**{field: value})
    if asked.state:
        rows = rows.filter(_build_state_condition(asked.state))
    if asked.flag:
        rows = rows.filter(Exists(_current_results().filter(_HasFlag("figures", Value(asked.flag)))))
    return rows


def _current_results() -> QuerySet[Result]:
    return Result.objects.filter(test=OuterRef("pk"), current=True)


def _build_state_condition(state: str) -> Q:
    """Build the condition of a state, as rows say it (`tests.TestRow`)."""
    waits = check_standards.build_waiting_condition()
    standard = Q(device__is_check_standard=True)
    if state == "excluded":
        return ~Q(excluded_reason="")
    if state == "published":
        return Q(Exists(PublishedVote.objects.filter(test_key=OuterRef("key"), cell__last_release=None)))
    if state == "waiting":
        recipe = Q(recipe_doubt__contradicts=True, recipe_confirmed_at=None)
        return recipe | (waits & ~standard)
    counts = Q(Exists(_current_results().filter(counts_as_evidence=True)), excluded_reason="")
    counts &= Q(device__design__isnull=False) & ~standard & ~waits
    return counts if state == "counts" else ~counts


class _HasFlag(Func):
    """Say whether figures hold a flag of a code; each engine has its own words for it."""

    output_field = BooleanField()

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        template = (
            "EXISTS (SELECT 1 FROM json_each(%(figures)s, '$.flags') AS flag "
            "WHERE json_extract(flag.value, '$.code') = %(code)s)"
        )
        return self._fill(template, compiler)

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        template = (
            "%(figures)s -> 'flags' @> jsonb_build_array(jsonb_build_object('code', CAST(%(code)s AS text)))"
        )
        return self._fill(template, compiler)

    def _fill(self, template: str, compiler: Any) -> Any:
        figures, code = self.get_source_expressions()
        (figures_sql, figures_given), (code_sql, code_given) = (
            compiler.compile(figures),
            compiler.compile(code),
        )
        return template % {"figures": figures_sql, "code": code_sql}, [*figures_given, *code_given]
