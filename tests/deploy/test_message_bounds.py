"""The server has one opinion on where a request ends, or refuses it: no request hides in another's body.

Rules: RFC 9112, sections 6.1 (both fields: refuse or close) and 6.3; RFC 9110, section 8.6 (Content-Length).
"""

import pytest
from gunicorn.config import Config
from gunicorn.http import errors
from gunicorn.http.parser import RequestParser

PEER = ("127.0.0.1", 40000)


def parsed(*fields: str, body: str = ""):
    head = "\r\n".join(["POST /api/v1/analyse/ HTTP/1.1", "Host: bench.example", *fields])
    whole = f"{head}\r\n\r\n{body}".encode("latin-1")
    return next(RequestParser(Config(), iter([whole]), PEER))


@pytest.mark.parametrize(
    "fields",
    [
        ("Content-Length: 5", "Transfer-Encoding: chunked"),
        ("Transfer-Encoding: chunked", "Content-Length: 5"),
        ("Transfer-Encoding: chunked", "Transfer-Encoding: chunked"),
        ("Transfer-Encoding: xchunked",),
        ("Transfer-Encoding: chunked, identity",),
        ("Transfer-Encoding : chunked",),
        ("Content-Length: 5", "Content-Length: 6"),
        ("Content-Length: +5",),
        ("Content-Length: 0x5",),
        ("Content-Length: -5",),
        (" folded: line",),
        ("Content\x00Length: 5",),
    ],
)
def test_two_ways_to_read_a_length_are_refused(fields):
    with pytest.raises(errors.ParseException):
        parsed(*fields, body="5\r\nhello\r\n0\r\n\r\n")


def test_one_way_is_taken():
    """Otherwise the refusals above would show nothing."""
    assert parsed("Content-Length: 5", body="hello").body.read() == b"hello"
    assert parsed("Transfer-Encoding: chunked", body="5\r\nhello\r\n0\r\n\r\n").body.read() == b"hello"
