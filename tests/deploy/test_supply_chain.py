"""The bill of materials is that of the lock, licences are known, the server uses each package it installs."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from importlib.metadata import packages_distributions

from deploy.virtualenv import ROOT

BILL = json.loads((ROOT / "deploy" / "sbom.cdx.json").read_text(encoding="utf-8"))
PIN = re.compile(r"^([A-Za-z0-9][A-Za-z0-9._-]*)==([^ \\]+)", re.MULTILINE)
# packages without a licence in their metadata: as their own file of terms says, read in the wheel
STATED_IN_A_FILE = {"pyrage": "MIT", "uritemplate": "BSD-3-Clause OR Apache-2.0"}
# used through Django's or the library's own names, in settings or as a plug-in, not by an import statement
BY_NAME = {
    "argon2-cffi": "BoundedArgon2PasswordHasher",
    "drf-spectacular": "drf_spectacular",
    "gunicorn": "gunicorn",
    "psycopg": "psycopg",
    "whitenoise": "whitenoise.middleware.WhiteNoiseMiddleware",
    "django-csp": "csp.middleware.CSPMiddleware",
    "django-tasks-db": "django_tasks_db",
    "django-rest-knox": "knox",
}


def _normal(name: str) -> str:
    """A name as the packaging standard compares it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def _licences(component) -> list[str]:
    found = []
    for each in component.get("licenses", []):
        licence = each.get("license", {})
        found.append(each.get("expression") or licence.get("id") or licence.get("name"))
    return found


def test_the_bill_of_materials_lists_what_is_locked():
    lock = (ROOT / "deploy" / "lock.txt").read_text(encoding="utf-8")
    locked = {_normal(found[1]): found[2] for found in PIN.finditer(lock)}
    assert {_normal(each["name"]): each["version"] for each in BILL["components"]} == locked
    assert BILL["bomFormat"] == "CycloneDX"


def test_every_package_states_a_licence():
    silent = {_normal(each["name"]) for each in BILL["components"] if not _licences(each)}
    assert silent == set(STATED_IN_A_FILE)


def test_the_server_uses_each_package_that_it_installs():
    given = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    wanted = {_normal(re.match(r"[A-Za-z0-9._-]+", each)[0]) for each in given}
    by_module = packages_distributions()
    imported = {_normal(name) for module in _imported() for name in by_module.get(module, [])}
    settings = "".join(
        path.read_text(encoding="utf-8")
        for path in [*ROOT.glob("deploy/*.py"), ROOT / "deploy" / "nginx.conf"]
    )
    unused = {name for name in wanted - imported if BY_NAME.get(name, "never named") not in settings}
    assert unused == set()


def _imported() -> set[str]:
    """Top-level modules that the server's own code imports; benchmarks are not the server."""
    found: set[str] = set()
    for room in ("measurements", "api", "deploy"):
        for path in (ROOT / room).rglob("*.py"):
            if "benchmarks" in path.parts:
                continue
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    found |= {each.name.split(".")[0] for each in node.names}
                elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                    found.add(node.module.split(".")[0])
    return found


def test_the_audit_has_a_dated_result():
    """deploy/audit asks the advisory service where there is a network, and says so where there is none."""
    assert re.match(r"\d{4}-\d\d-\d\d (no known vulnerability|vulnerabilities:|not run: no network)",
                    (ROOT / "deploy" / "audit.txt").read_text(encoding="utf-8"))  # fmt: skip
