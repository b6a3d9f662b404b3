"""Whether this server can do its work: it answers, and its database answers."""

from __future__ import annotations

import logging

from django.db import connection
from django.db.utils import Error
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

logger = logging.getLogger(__name__)


@require_safe
@never_cache
def healthz(_request: HttpRequest) -> JsonResponse:
    """200 `{"status": "ok"}`, or 503 when the database does not answer; says nothing more to anyone."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except Error:
        logger.exception("The health page could not reach the database")
        return JsonResponse({"status": "database unreachable"}, status=503)
    return JsonResponse({"status": "ok"})
