"""The bare Django application that everything is compared against: no middleware, no checks, one view each.

BENCH_REPLIES names a directory: `/replies/NAME` answers the bytes of that file, held in memory.
`/store` takes a multipart body and inserts the bytes of its file into a table of its own.
"""

from __future__ import annotations

import os
from pathlib import Path

import django
from django.conf import settings

from deploy import databases

settings.configure(
    SECRET_KEY="bench",  # noqa: S106 nothing is signed here
    ALLOWED_HOSTS=["*"],
    ROOT_URLCONF=__name__,
    DATABASES={"default": databases.parse_database_url(os.environ["BENCHNIGHT_DATABASE_URL"])},
    INSTALLED_APPS=[],
    MIDDLEWARE=[],
    USE_TZ=True,
)
django.setup()

from django.core.handlers.wsgi import WSGIHandler  # noqa: E402  after the settings
from django.db import connection  # noqa: E402
from django.http import HttpRequest, HttpResponse  # noqa: E402
from django.urls import path  # noqa: E402

TABLE = "bench_floor"
_replies = {
    file.name: file.read_bytes() for file in Path(os.environ.get("BENCH_REPLIES", "/dev/null")).glob("*")
}


def send_reply(_request: HttpRequest, name: str) -> HttpResponse:
    """Return the bytes of one file."""
    return HttpResponse(_replies[name], content_type="application/json")


def store_bytes(request: HttpRequest) -> HttpResponse:
    """Return one INSERT of the file's bytes."""
    data = request.FILES["sweep"].read()
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {TABLE} (raw) VALUES (%s)", [data])  # noqa: S608 a constant
    return HttpResponse(b"{}", status=201, content_type="application/json")


def make_table() -> None:
    """Create the floor's table; called once before it is served."""
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TABLE IF NOT EXISTS {TABLE} (id bigserial PRIMARY KEY, raw bytea NOT NULL)")


urlpatterns = [
    path("healthz", lambda request: HttpResponse(b"ok")),
    path("replies/<str:name>", send_reply),
    path("store", store_bytes),
]
application = WSGIHandler()
