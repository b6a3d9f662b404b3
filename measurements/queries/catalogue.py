"""When anything changed that everybody may see, told by one small question.

What the public is shown of designs follows from the release, the list of designs, the reference data and
the group's settings. Every write of those leaves a row in the log, which only grows, in its own transaction:
as long as there is no further such row, the answer to the same question is the same.
"""

from __future__ import annotations

from django.db import connection
from django.utils import timezone

from measurements.models import AuditEntry, group
from measurements.models.audit import OF_THE_CATALOGUE
from measurements.rf.engine import ENGINE_VERSION

State = tuple[object, ...]
# written out, words and all: it is asked with every request, and making the same statement anew costs more
# than asking. The sum is there because a row that was written first may be seen last. Rows are written at the
# end of what they tell of, so one that comes late has not been overtaken by so many others.
NEWEST = 200
_WORDS = ", ".join(f"'{action}'" for action in OF_THE_CATALOGUE)
QUESTION = (
    "SELECT CAST(MAX(id) AS VARCHAR) || ' of ' || CAST(SUM(id) AS VARCHAR) "  # noqa: S608  # words of our own
    f"FROM (SELECT id FROM {AuditEntry._meta.db_table} WHERE action IN ({_WORDS}) "
    f"ORDER BY id DESC LIMIT {NEWEST}) AS newest"
)


def state() -> State:
    """Equal for as long as nothing of the catalogue changes, in one query."""
    with connection.cursor() as cursor:
        cursor.execute(QUESTION)
        return state_of(cursor.fetchone()[0])


def state_of(answer: object) -> State:
    """The state where `QUESTION` was answered so, by whoever asks the database something else at once.

    The day is part of it, because the band plan goes by it.
    """
    settings = (group.thresholds(), group.region(), *group.terms())
    return (answer, timezone.now().date(), ENGINE_VERSION, *settings)
