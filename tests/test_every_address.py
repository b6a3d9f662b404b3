"""Every address of the site stands in a permission table: one that is in none fails here."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver

from tests.api import test_permissions as test_permissions_module
from tests.pages import test_permissions

OF_DEPLOY = {
    "healthz": "open to everybody and telling nobody anything: tests/deploy/test_health.py",
    "metrics": "404 to everybody but a program on this machine: tests/deploy/test_metrics.py",
    "nothing_of_api": "404 in JSON to everybody, below /api outside every version: tests/api/http",
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
    assert {name or test_permissions_module.NOWHERE for name in by_space["api"]} == set(
        test_permissions_module.TABLE
    )
    assert by_space["pages"] == set(test_permissions.TABLE)


def test_the_table_of_the_api_is_every_role_with_every_method():
    roles, methods, names = (
        set(test_permissions_module.ROLES),
        set(test_permissions_module.METHODS),
        set(test_permissions_module.TABLE),
    )
    assert set(test_permissions_module.CASES) == {(n, m, r) for n in names for m in methods for r in roles}
    for name, row in test_permissions_module.TABLE.items():
        for method, answers in row.items():
            assert method in methods and set(answers) == roles, (name, method)
