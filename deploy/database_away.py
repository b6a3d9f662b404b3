"""Pages while the database is away, too busy or has no room: 503 with a time to try again, no fault of ours.

The REST door answers so itself. Nothing is kept open: the next request connects anew (connections are checked
before use), so the server works again as soon as the database does.
"""

from __future__ import annotations

import logging
from collections.abc import Callable

from django.db.utils import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse

from measurements.ingest import disk_room
from measurements.pages.views import refusals

logger = logging.getLogger(__name__)
RETRY_S = 5


class DatabaseAwayMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """The page for a database that did not answer; None leaves every other fault to Django."""
        if disk_room.is_used_up(exception):
            logger.error("There is no room left to store anything", exc_info=exception)
            return refusals.no_room(request)
        if not isinstance(exception, InterfaceError | OperationalError):
            return None
        logger.error("The database did not answer", exc_info=exception)
        response = refusals.database_away(request)
        response["Retry-After"] = str(RETRY_S)
        return response
