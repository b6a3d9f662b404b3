"""What stands in front of every view: the size of a request, the address it came from, what is logged."""

import io
import json
import logging
import logging.config

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.test import RequestFactory

from deploy import logs
from deploy.middleware import BodyLimitMiddleware, ClientAddressMiddleware

MEBIBYTE = 1024 * 1024


def answered(path: str, declared_bytes: int | str) -> HttpResponse:
    """The answer where no body is read; a view of the API asks what the middleware marked."""
    request = RequestFactory().post(path, data=b"", content_type="application/octet-stream")
    request.META["CONTENT_LENGTH"] = str(declared_bytes)
    request.user = AnonymousUser()
    request.session = {}
    marked = BodyLimitMiddleware(
        lambda asked: (
            HttpResponse(getattr(asked, "too_large", "read"), status=413)
            if hasattr(asked, "too_large")
            else HttpResponse("read")
        )
    )
    return marked(request)


@pytest.mark.parametrize("path", ["/upload/", "/api/v1/tests/", "/api/v1/nights/", "/nights/"])
def test_a_request_over_nine_mebibytes_is_refused_unread(path):
    assert answered(path, 9 * MEBIBYTE).content == b"read"
    assert answered(path, 9 * MEBIBYTE + 1).status_code == 413


@pytest.mark.parametrize("path", ["/api/v1/nights/abc/intake/", "/nights/abc/", "/api/v1/folders/"])
def test_a_club_night_may_send_sixty(path):
    assert answered(path, 60 * MEBIBYTE).content == b"read"
    assert answered(path, 60 * MEBIBYTE + 1).status_code == 413


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/api/v1/tests/", "/api/v1/analyse/"])
def test_the_refusal_is_a_problem_for_programs_and_a_sentence_for_people(client, path, monkeypatch):
    def read(*_):
        raise AssertionError("the body was read")

    monkeypatch.setattr(WSGIRequest, "read", read)
    monkeypatch.setattr(WSGIRequest, "body", property(read))
    large = {"content_type": "multipart/form-data; boundary=x", "CONTENT_LENGTH": str(10 * MEBIBYTE)}
    reply = client.post(path, b"", **large)
    assert reply.status_code == 413 and reply["Content-Type"] == "application/problem+json"
    assert reply["RateLimit"] and reply["RateLimit-Policy"]
    problem = json.loads(reply.content)
    assert (problem["status"], problem["code"]) == (413, "request.too_large")
    assert "9 MiB" in problem["detail"] and "Send fewer or smaller files" in problem["detail"]
    assert set(problem) == {"type", "title", "status", "detail", "code", "errors"}
    page = client.post("/upload/", b"", **large)
    assert page.status_code == 413 and b"9 MiB" in page.content


@pytest.mark.parametrize("declared", ["", "-1", "many", "²"])
def test_a_length_that_is_no_number_counts_as_none(declared):
    assert answered("/upload/", declared).content == b"read"


@pytest.mark.parametrize(
    ("proxies", "forwarded", "expected"),
    [
        (0, "198.51.100.7", "192.0.2.1"),
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "203.0.113.9, 198.51.100.7", "198.51.100.7"),
        (2, "203.0.113.9, 198.51.100.7, 192.0.2.50", "198.51.100.7"),
        (2, "198.51.100.7", "192.0.2.1"),
        (1, "invented", "192.0.2.1"),
        (1, "", "192.0.2.1"),
        (1, "2001:db8::7", "2001:db8::7"),
    ],
)
def test_the_address_is_the_one_that_the_outermost_trusted_proxy_saw(settings, proxies, forwarded, expected):
    """Addresses of RFC 5737 and RFC 3849, which are set aside for documents."""
    settings.BENCHNIGHT_PROXIES = proxies
    request = RequestFactory().get("/", REMOTE_ADDR="192.0.2.1", HTTP_X_FORWARDED_FOR=forwarded)
    ClientAddressMiddleware(lambda _: HttpResponse())(request)
    assert request.META["REMOTE_ADDR"] == expected


def test_log_lines_hold_no_query_string_and_no_request(client, settings):
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.addFilter(logs.QueryFilter())
    handler.setFormatter(logs.LineFormatter(logs.FORMAT, style="{"))
    logger = logging.getLogger("django.request")
    logger.addHandler(handler)
    try:
        reply = client.get("/no-such-page/?owner=canary-owner", HTTP_AUTHORIZATION="Token canary-token")
        logger.warning("Not Found: %s", "/no-such-page/?owner=canary-owner")
    finally:
        logger.removeHandler(handler)
    assert reply.status_code == 404
    assert "/no-such-page/" in stream.getvalue()
    assert "canary" not in stream.getvalue()
