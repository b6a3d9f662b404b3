"""Whether this server can do its work: it answers, and its database answers."""

from __future__ import annotations

import ipaddress
import logging
import shutil
import time
from collections.abc import Iterator

from django.conf import settings
from django.db import connection
from django.db.utils import Error
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry
from prometheus_client.core import GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from measurements.rf.analysis import ENGINE_VERSION
from measurements.selectors.operations import server_figures
from measurements.services.operations import backup

health_logger = logging.getLogger(__name__)


@require_safe
@never_cache
def show_health(_request: HttpRequest) -> JsonResponse:
    """Return 200 `{"status": "ok"}`, or 503 when the database does not answer; says nothing more to
    anyone.
    """
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except Error:
        health_logger.exception("The health page could not reach the database")
        return JsonResponse({"status": "database unreachable"}, status=503)
    return JsonResponse({"status": "ok"})


# Figures for a monitor on this machine, in the open text format of Prometheus and OpenMetrics.
#
# Nobody else gets them: they say how busy a group is. A request from elsewhere, or one that a proxy
# passed on,
# is answered as if there were no such address.

logger = logging.getLogger(__name__)

# what proxies add: who sends one of these came from elsewhere, whatever the address says
PROXY_HEADERS = ("HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED", "HTTP_X_REAL_IP", "HTTP_VIA")

# (name, field of ServerFigures, what it is)
DATABASE_GAUGES = (
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


def show_metrics(request: HttpRequest) -> HttpResponse:
    """Return the figures, or 404 to whoever is not on this machine, whatever the method."""
    if not is_from_this_machine(request):
        raise Http404
    return _render_metrics(request)


@require_safe
@never_cache
def _render_metrics(request: HttpRequest) -> HttpResponse:
    registry = CollectorRegistry()
    registry.register(_FigureCollector())
    written, content_type = choose_encoder(request.headers.get("Accept", ""))
    return HttpResponse(written(registry), content_type=content_type)


def is_from_this_machine(request: HttpRequest) -> bool:
    """Say whether a program on this machine asks, by no proxy; `ClientAddressMiddleware` ran before."""
    if any(name in request.META for name in PROXY_HEADERS):
        return False
    remote = request.META.get("REMOTE_ADDR", "")
    if not remote:
        return True  # the socket of `benchnight.socket`, a file of this machine, has no addresses
    try:
        address = ipaddress.ip_address(remote)
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return (mapped or address).is_loopback


class _FigureCollector(Collector):
    """Asked once per request; a database that is away leaves out what only it knows."""

    def collect(self) -> Iterator[Metric]:
        version = {"version": settings.SPECTACULAR_SETTINGS["VERSION"], "engine": ENGINE_VERSION}
        yield InfoMetricFamily("benchnight", "What runs here.", value=version)
        try:
            figures = server_figures.get_server_figures()
        except Error:
            logger.exception("The figures for the monitor could not be read from the database")
            figures = None
        yield _make_gauge("database_up", "1 while the database answers", 0 if figures is None else 1)
        if figures is not None:
            for name, field, about in DATABASE_GAUGES:
                if (value := getattr(figures, field)) is not None:
                    yield _make_gauge(name, about, value)
        yield from _collect_machine_figures()


def _collect_machine_figures() -> Iterator[Metric]:
    if (written_at := backup.get_last_backup_time(settings.BENCHNIGHT_VAR)) is not None:
        age_s = max(0.0, time.time() - written_at)
        yield _make_gauge("backup_age_seconds", "Since the last verified backup was written here", age_s)
    disk = shutil.disk_usage(settings.BENCHNIGHT_VAR)
    yield _make_gauge("disk_free_bytes", "Room on the disk of BENCHNIGHT_VAR", disk.free)
    yield _make_gauge("disk_size_bytes", "Size of the disk of BENCHNIGHT_VAR", disk.total)


def _make_gauge(name: str, about: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"benchnight_{name}", f"{about}.", value=value)
