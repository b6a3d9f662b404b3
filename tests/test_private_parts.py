"""Nothing of ours reads, calls or overrides an underscore member of a library.

Three rules, over every class and module of the three packages:
1. `something._name`: the name is one that we define ourselves, or one that Django documents;
2. `self._name` in a class that inherits from a library: one of our own classes in its ancestry defines it;
3. no class of ours defines an underscore name that a library's class in its ancestry has.
"""

from __future__ import annotations

import ast
import inspect
import pkgutil
import textwrap
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("measurements", "api", "deploy")
# "Model _meta API" and "Managers", docs.djangoproject.com/en/5.2/ref/models/meta/ and topics/db/managers/
DOCUMENTED = {"_meta", "_default_manager", "_base_manager"}
# they configure Django for a process of their own when they are imported
NOT_IMPORTED = ("deploy.benchmarks", "deploy.wsgi", "deploy.server", "deploy.settings")


def is_private(name: str) -> bool:
    return name.startswith("_") and not (name.startswith("__") and name.endswith("__")) and name != "_"


def list_files() -> list[Path]:
    return [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]


def list_defined_names(tree: ast.AST) -> set[str]:
    """Every underscore name that a module defines, or that a class of it sets on itself."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            found.add(node.id)
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store) and is_own(node.value):
            found.add(node.attr)
    return {name for name in found if is_private(name)}


@cache
def list_our_names() -> frozenset[str]:
    """Underscore names that any module of ours defines: a class may inherit them from one of ours."""
    trees = (ast.parse(path.read_text(encoding="utf-8")) for path in list_files())
    return frozenset(name for tree in trees for name in list_defined_names(tree))


def is_own(value: ast.AST) -> bool:
    return isinstance(value, ast.Name) and value.id in ("self", "cls")


def find_foreign_members(source: str, ours: frozenset[str] = frozenset()) -> list[str]:
    """Underscore members that are read or set where nothing of ours defines them, and imports of some."""
    tree = ast.parse(source)
    known = list_defined_names(tree) | DOCUMENTED
    found = []
    for node in ast.walk(tree):
        inherited = ours if isinstance(node, ast.Attribute) and is_own(node.value) else frozenset()
        if isinstance(node, ast.Attribute) and is_private(node.attr) and node.attr not in known | inherited:
            found.append(f"{node.lineno}: {ast.unparse(node)}")
        elif (
            isinstance(node, ast.Attribute)
            and is_private(node.attr)
            and isinstance(node.ctx, ast.Store)
            and not is_own(node.value)
            and node.attr not in DOCUMENTED
        ):
            found.append(f"{node.lineno}: {ast.unparse(node)} is set")
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            own = node.module.split(".")[0] in PACKAGES
            names = [*node.module.split("."), *(alias.name for alias in node.names)]
            if not own and any(map(is_private, names)):
                found.append(f"{node.lineno}: {ast.unparse(node)}")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and len(node.args) > 1:
            name = node.args[1]
            by_name = node.func.id in ("getattr", "setattr", "hasattr", "delattr")
            if by_name and isinstance(name, ast.Constant) and is_private(str(name.value)):
                found.append(f"{node.lineno}: {ast.unparse(node)}")
    return found


@pytest.mark.parametrize(
    "source",
    [
        "query._iterable_class",
        "request._request._stream = other",
        "getattr(request, '_body', None)",
        "hasattr(request._request, '_body')",
        "from django.db.models.query import _lookup",
        "from psycopg._queries import PostgresQuery",
        "super()._load_stream()",
        "Form._declared_fields['a'] = 1",
        "self._taken_from_a_base()",
        "def _stream(): pass\nrequest._stream = 1",
    ],
)
def test_the_rule_sees(source):
    assert find_foreign_members(source)


@pytest.mark.parametrize(
    "source",
    [
        "class A:\n  def _own(self): ...\n  def go(self): self._own()",
        "self._kept = 1\nself._kept.go()",
        "Model._meta.db_table",
        "object.__setattr__(a, 'b', 1)",
        "from measurements.migrations import _steps",
    ],
)
def test_the_rule_passes(source):
    assert not find_foreign_members(source)


@pytest.mark.parametrize("path", list_files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_no_underscore_member_of_a_library_is_used(path):
    assert find_foreign_members(path.read_text(encoding="utf-8"), list_our_names()) == []


def list_classes() -> Iterator[type]:
    """Every class that one of our modules defines."""
    for package in PACKAGES:
        for found in pkgutil.walk_packages([str(ROOT / package)], f"{package}."):
            if found.name.startswith(NOT_IMPORTED):
                continue
            module = import_module(found.name)
            for _, value in inspect.getmembers(module, inspect.isclass):
                if value.__module__ == found.name:
                    yield value


def is_ours(owner: type) -> bool:
    return owner.__module__.split(".")[0] in PACKAGES


def list_overridden(owner: type) -> set[str]:
    """Underscore names in the text of a class that a library's class in its ancestry has as well."""
    try:
        tree = ast.parse(textwrap.dedent(inspect.getsource(owner)))
    except (OSError, IndentationError):
        tree = ast.parse("")  # made by a call: it has no text
    written = list_defined_names(tree)
    libraries = [base for base in owner.__mro__[1:] if not is_ours(base) and base is not object]
    return {name for name in written for base in libraries if name in vars(base)}


def test_no_underscore_member_of_a_library_is_overridden():
    classes = list(list_classes())
    assert len(classes) > 200
    assert {
        f"{owner.__module__}.{owner.__qualname__}.{name}"
        for owner in classes
        for name in list_overridden(owner)
    } == set()


def test_the_rule_of_overriding_sees():
    from rest_framework import serializers

    class Shown(serializers.Serializer):
        @property
        def _readable_fields(self):
            return ()

    assert list_overridden(Shown) == {"_readable_fields"}
