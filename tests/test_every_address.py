"""Every address of the site stands in a permission table: one that is in none fails here."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver

from tests.api import test_permissions as of_the_api
from tests.pages import test_permissions as of_the_pages

OF_DEPLOY = {
    "healthz": "open to everybody and telling nobody anything: tests/deploy/test_health.py",
    "metrics": "404 to everybody but a program on this machine: tests/deploy/test_metrics.py",
}


def addresses(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[tuple[str, str | None]]:
    """(namespace, name) of every address below these."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, pattern.namespace or space)
        else:
            yield space, pattern.name


def test_every_address_stands_in_a_table():
    found = list(addresses(get_resolver().url_patterns))
    assert len(set(found)) == len(found), "two addresses of one name"
    by_space = {space: {name for place, name in found if place == space} for space, _ in found}
    assert set(by_space) == {"", "api", "pages"}
    assert by_space[""] == set(OF_DEPLOY)
    assert {name or of_the_api.NOWHERE for name in by_space["api"]} == set(of_the_api.TABLE)
    assert by_space["pages"] == set(of_the_pages.TABLE)


def test_the_table_of_the_api_is_every_role_with_every_method():
    roles, methods, names = set(of_the_api.ROLES), set(of_the_api.METHODS), set(of_the_api.TABLE)
    assert set(of_the_api.CASES) == {(n, m, r) for n in names for m in methods for r in roles}
    for name, row in of_the_api.TABLE.items():
        for method, answers in row.items():
            assert method in methods and set(answers) == roles, (name, method)
