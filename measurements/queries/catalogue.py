"""When anything changed that everybody may see, told by one small question.

What the public is shown of designs follows from the release, the list of designs, the reference data and
the group's settings. Every write of those leaves a row in the log, which only grows, in its own transaction:
as long as there is no further such row, the answer to the same question is the same.
"""

from __future__ import annotations

from dataclasses import astuple

from django.db.models import Count, Max
from django.utils import timezone

from measurements.models import AuditEntry, group
from measurements.models.audit import OF_THE_CATALOGUE
from measurements.rf.engine import ENGINE_VERSION

State = tuple[object, ...]


def state() -> State:
    """Equal for as long as nothing of the catalogue changes, in one query.

    The count is there because a row that was written first may be seen last; the day, because the band
    plan goes by it.
    """
    rows = AuditEntry.objects.filter(action__in=OF_THE_CATALOGUE)
    seen = rows.aggregate(newest=Max("pk"), count=Count("pk"))
    settings = (*astuple(group.thresholds()), group.region(), *group.terms())
    return (seen["newest"], seen["count"], timezone.now().date(), ENGINE_VERSION, *settings)
