"""When anything changed that everybody may see, told by one small question.

What the public is shown of designs follows from the release, the list of designs, the reference data and
the group's settings. Every write of those leaves a row in the log, which only grows, in its own transaction:
as long as there is no further such row, the answer to the same question is the same.
"""

from __future__ import annotations

from dataclasses import astuple

from django.db import connection
from django.utils import timezone

from measurements.models import AuditEntry, group
from measurements.models.audit import OF_THE_CATALOGUE
from measurements.rf.engine import ENGINE_VERSION

State = tuple[object, ...]
# written out: it is asked with every request, and making the same statement anew costs more than asking
_NEWEST_AND_COUNT = (
    f"SELECT MAX(id), COUNT(*) FROM {AuditEntry._meta.db_table} "  # noqa: S608  # names of our own
    f"WHERE action IN ({', '.join(['%s'] * len(OF_THE_CATALOGUE))})"
)


def state() -> State:
    """Equal for as long as nothing of the catalogue changes, in one query.

    The count is there because a row that was written first may be seen last; the day, because the band
    plan goes by it.
    """
    with connection.cursor() as cursor:
        cursor.execute(_NEWEST_AND_COUNT, OF_THE_CATALOGUE)
        seen = cursor.fetchone()
    settings = (*astuple(group.thresholds()), group.region(), *group.terms())
    return (*seen, timezone.now().date(), ENGINE_VERSION, *settings)
