"""Figures for a monitor on this machine, in the open text format of Prometheus and OpenMetrics.

Nobody else gets them: they say how busy a group is. A request from elsewhere, or one that a proxy passed on,
is answered as if there were no such address.
"""

from __future__ import annotations

import ipaddress
import logging
import shutil
import time
from collections.abc import Iterator

from django.conf import settings
from django.db.utils import Error
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry
from prometheus_client.core import GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from measurements.ingest import backup
from measurements.queries import server_figures
from measurements.rf.engine import ENGINE_VERSION

logger = logging.getLogger(__name__)

# what proxies add: who sends one of these came from elsewhere, whatever the address says
PASSED_ON = ("HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED", "HTTP_X_REAL_IP", "HTTP_VIA")
# (name, field of ServerFigures, what it is)
OF_THE_DATABASE = (
    ("tests", "tests", "Tests that are stored"),
    ("tests_to_recompute", "to_recompute", "Tests without a result of this engine: manage.py recompute"),
    ("intakes_unfinished", "intakes", "Intakes of club nights that wait or are worked on"),
    ("intake_files_waiting", "intake_files_waiting", "Files of unfinished intakes that wait"),
    ("intake_oldest_age_seconds", "intake_oldest_s", "Since the oldest unfinished intake was handed in"),
    ("tasks_waiting", "tasks_waiting", "Tasks that no worker has taken (PostgreSQL only)"),
    (
        "task_oldest_age_seconds",
        "task_oldest_s",
        "Since the oldest waiting task was queued (PostgreSQL only)",
    ),
    ("tasks_failed", "tasks_failed", "Tasks that failed within the last week (PostgreSQL only)"),
    ("release", "release", "Number of the newest evidence release"),
    ("release_age_seconds", "release_age_s", "Since the newest evidence release was made"),
)


def metrics(request: HttpRequest) -> HttpResponse:
    """The figures, or 404 to whoever is not on this machine, whatever the method."""
    if not is_from_here(request):
        raise Http404
    return _answer(request)


@require_safe
@never_cache
def _answer(request: HttpRequest) -> HttpResponse:
    registry = CollectorRegistry()
    registry.register(_Figures())
    written, content_type = choose_encoder(request.headers.get("Accept", ""))
    return HttpResponse(written(registry), content_type=content_type)


def is_from_here(request: HttpRequest) -> bool:
    """Whether a program on this machine asks, by no proxy; `ClientAddressMiddleware` ran before."""
    if any(name in request.META for name in PASSED_ON):
        return False
    try:
        address = ipaddress.ip_address(request.META.get("REMOTE_ADDR", ""))
    except ValueError:
        return False  # a socket without addresses: no door of ours
    mapped = getattr(address, "ipv4_mapped", None)
    return (mapped or address).is_loopback


class _Figures(Collector):
    """Asked once per request; a database that is away leaves out what only it knows."""

    def collect(self) -> Iterator[Metric]:
        version = {"version": settings.SPECTACULAR_SETTINGS["VERSION"], "engine": ENGINE_VERSION}
        yield InfoMetricFamily("benchnight", "What runs here.", value=version)
        try:
            figures = server_figures.now()
        except Error:
            logger.exception("The figures for the monitor could not be read from the database")
            figures = None
        yield _gauge("database_up", "1 while the database answers", 0 if figures is None else 1)
        if figures is not None:
            for name, field, about in OF_THE_DATABASE:
                if (value := getattr(figures, field)) is not None:
                    yield _gauge(name, about, value)
        yield from _of_the_machine()


def _of_the_machine() -> Iterator[Metric]:
    if (written_at := backup.last_written(settings.BENCHNIGHT_VAR)) is not None:
        age_s = max(0.0, time.time() - written_at)
        yield _gauge("backup_age_seconds", "Since the last verified backup was written here", age_s)
    disk = shutil.disk_usage(settings.BENCHNIGHT_VAR)
    yield _gauge("disk_free_bytes", "Room on the disk of BENCHNIGHT_VAR", disk.free)
    yield _gauge("disk_size_bytes", "Size of the disk of BENCHNIGHT_VAR", disk.total)


def _gauge(name: str, about: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"benchnight_{name}", f"{about}.", value=value)
