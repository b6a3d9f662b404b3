"""Operations that will go are announced: RFC 9745 and RFC 8594, tried on one that is made up."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from drf_spectacular.generators import SchemaGenerator

from api.http import deprecation

# RFC 9745 section 2.1 and RFC 8594 section 3 give these two as examples
SINCE = datetime(2023, 6, 30, 23, 59, 59, tzinfo=UTC)
SUNSET = datetime(2018, 12, 31, 23, 59, 59, tzinfo=UTC)


@pytest.fixture
def deprecated(monkeypatch):
    told = deprecation.DeprecatedOperation(SINCE, SUNSET, "/api/v1/docs/")
    monkeypatch.setattr(deprecation, "OPERATIONS", {"bands": told})


def test_every_reply_of_it_says_so(scene, deprecated):
    for method in ("GET", "HEAD"):
        reply = scene.ask("anonymous", method, "bands/")
        assert reply["Deprecation"] == "@1688169599"
        assert reply["Sunset"] == "Mon, 31 Dec 2018 23:59:59 GMT"
        assert '</api/v1/docs/>; rel="deprecation"' in reply["Link"]
    assert "Deprecation" in scene.ask("anonymous", "GET", "bands/?wrong=1")


def test_the_others_do_not(scene, deprecated):
    assert "Deprecation" not in scene.ask("anonymous", "GET", "mixes/")
    assert "Deprecation" not in scene.ask("anonymous", "OPTIONS", "mixes/")


def test_the_table_names_operations_that_are_there():
    named = {
        operation["operationId"]
        for path in SchemaGenerator().get_schema(request=None, public=True)["paths"].values()
        for operation in path.values()
    }
    assert set(deprecation.OPERATIONS) <= named


def test_nothing_goes_within_its_first_year():
    for told in deprecation.OPERATIONS.values():
        assert (told.sunset - told.since).days >= 365
