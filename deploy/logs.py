"""Log lines go to standard error, and hold no address, name, header, query or body.

Django's own request logger attaches the whole request to a record; only the fields named in the
format are printed. A query string may carry a search that points at a person, so paths are cut at `?`.
"""

from __future__ import annotations

import logging
import re
import time
from typing import Any

# an address that is a secret itself: whoever reads the log must not be able to open it
SECRET_PATH = re.compile(r"^(/(?:calendar|sign-in)/)[\w-]{20,}")


# what could end a line or colour a terminal: control characters, and what some readers take for a line's end
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
# what gunicorn says of a request that it cannot read: the client's address, then words of its own up to the
# colon, then what was sent
UNREADABLE_REQUEST = re.compile(r"^Invalid request from ip=\S*: ?([A-Z][A-Za-z/0-9 ]*(?=:|$))?.*$", re.DOTALL)
FORMAT = "{asctime} {levelname} {name}: {message}"


class LineFormatter(logging.Formatter):
    """One line an event, its time in UTC with the zone said; what follows of an error is set in.

    Only lines that begin with a time are events: nothing that a client sends can begin one.
    """

    converter = time.gmtime
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802  # the library's name
        record.message = CONTROL.sub(lambda found: f"\\x{ord(found[0]):02x}", record.message)
        return super().formatMessage(record)

    def formatException(self, ei: Any) -> str:  # noqa: N802  # the library's name
        return "    " + "\n    ".join(super().formatException(ei).splitlines())

    def formatStack(self, stack_info: str) -> str:  # noqa: N802  # the library's name
        return "    " + "\n    ".join(super().formatStack(stack_info).splitlines())


class QueryFilter(logging.Filter):
    """Cut the query string off every argument that looks like a path, and secrets out of it."""

    def filter(self, record: logging.LogRecord) -> bool:
        if isinstance(record.args, tuple):
            record.args = tuple(
                SECRET_PATH.sub(r"\1...", value.split("?", 1)[0])
                if isinstance(value, str) and value.startswith("/")
                else value
                for value in record.args
            )
        return True


class ClientFilter(logging.Filter):
    """Of a request that cannot be read, say what is wrong with it, not who sent it nor what stood in it."""

    def filter(self, record: logging.LogRecord) -> bool:
        found = UNREADABLE_REQUEST.match(record.getMessage())
        if found:
            record.msg, record.args = (
                f"Unreadable request refused: {found[1] or 'not HTTP as it should be'}",
                None,
            )
        return True


class ForeignHostFilter(logging.Filter):
    """Let one line a minute through about requests for other hosts, and count those in between.

    Scanners send them by the thousand; the name that they ask for is theirs, so it is not logged.
    """

    def __init__(self, name: str = "", every_s: float = 60.0) -> None:
        super().__init__(name)
        self._every_s, self._next_s, self._skipped = every_s, float("-inf"), 0

    def filter(self, record: logging.LogRecord) -> bool:
        now = time.monotonic()
        if now < self._next_s:
            self._skipped += 1
            return False
        more = f", and {self._skipped} more since the last such line" if self._skipped else ""
        record.msg, record.args, record.exc_info = (
            f"Request for a host that is not ours refused{more}",
            None,
            None,
        )
        self._next_s, self._skipped = now + self._every_s, 0
        return True


def build_logging_settings(level: str) -> dict[str, Any]:
    """Return the dictionary for `logging.config.dictConfig`, at `level` and above."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {
            "without_query": {"()": QueryFilter},
            "without_client": {"()": ClientFilter},
            "once_a_minute": {"()": ForeignHostFilter},
        },
        "formatters": {
            "line": {"()": LineFormatter, "fmt": FORMAT, "style": "{"},
        },
        "handlers": {
            "stderr": {
                "class": "logging.StreamHandler",
                "formatter": "line",
                "filters": ["without_query", "without_client"],
            },
        },
        "root": {"handlers": ["stderr"], "level": level},
        "loggers": {
            # replaces Django's default handlers, which mail tracebacks with request data to admins
            "django": {"handlers": ["stderr"], "level": level, "propagate": False},
            "django.security.DisallowedHost": {"filters": ["once_a_minute"], "level": level},
            "django.server": {"handlers": ["stderr"], "level": level, "propagate": False},
            # the server's own lines, in the one format (deploy/server.py hands it all this)
            "gunicorn.error": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
            # the library names credentials in its lines
            "fido2": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
            # SQL parameters are measurement data and names
            "django.db.backends": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        },
    }
