"""Requests for hosts that are not ours: one line a minute, without the name that was sent."""

import logging

import pytest
from django.test import Client

from deploy import logs


@pytest.fixture
def lines(monkeypatch):
    """Lines of the logger, filtered as on a server; the clock is at `at[0]` seconds."""
    at = [0.0]
    monkeypatch.setattr(logs.time, "monotonic", lambda: at[0])
    logger = logging.getLogger("django.security.DisallowedHost")
    found: list[logging.LogRecord] = []
    handler, foreign = logging.Handler(), logs.ForeignHostFilter()
    handler.emit = found.append
    monkeypatch.setattr(logger, "filters", [foreign])  # as configured, with a count of its own
    logger.addHandler(handler)
    yield found, at
    logger.removeHandler(handler)


def test_a_scanner_leaves_one_line_a_minute(lines):
    found, at = lines
    for second in range(180):
        at[0] = float(second)
        assert Client().get("/", headers={"host": f"quagga-{second}.example"}).status_code == 400
    assert [each.getMessage() for each in found] == [
        "Request for a host that is not ours refused",
        "Request for a host that is not ours refused, and 59 more since the last such line",
        "Request for a host that is not ours refused, and 59 more since the last such line",
    ]
    assert not any(each.exc_info for each in found)


def test_the_server_has_the_filter():
    given = logs.build_logging_settings("INFO")
    assert given["loggers"]["django.security.DisallowedHost"]["filters"] == ["once_a_minute"]
