"""The lock files: exact, hashed, the same versions in both, and enough for other machines."""

import re

import pytest

from deploy.virtualenv import LOCK, LOCK_CHECK

LOCKS = [LOCK, LOCK_CHECK]
PINNED = re.compile(r"^([a-z0-9._-]+)==(\S+) \\$")
HASH = re.compile(r"^    --hash=sha256:[0-9a-f]{64}( \\)?$")


def pinned(lock) -> dict[str, tuple[str, frozenset[str]]]:
    """Package: (version, hashes)."""
    packages: dict[str, tuple[str, set[str]]] = {}
    name = ""
    for line in lock.read_text(encoding="ascii").splitlines():
        if match := PINNED.match(line):
            name = match[1]
            packages[name] = (match[2], set())
        elif HASH.match(line):
            packages[name][1].add(line)
    return {name: (version, frozenset(hashes)) for name, (version, hashes) in packages.items()}


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_every_line_is_a_pin_a_hash_or_a_comment(lock):
    """So no index, no host and no path can stand in a lock."""
    for line in lock.read_text(encoding="ascii").splitlines():
        assert PINNED.match(line) or HASH.match(line) or line == "" or line.startswith("#"), line
        if line.startswith("#"):
            assert "/" not in line.replace("deploy/lock", ""), line


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_compiled_packages_are_locked_for_more_than_one_machine(lock):
    """A release with compiled parts has a file for each processor and Python: dozens of hashes."""
    packages = pinned(lock)
    for name in ("numpy", "scipy", "psycopg-binary", "pandas"):
        assert len(packages[name][1]) >= 20, name
    assert all(hashes for _, hashes in packages.values())


def test_the_checks_run_with_exactly_what_the_server_runs_with():
    server, checks = pinned(LOCK), pinned(LOCK_CHECK)
    assert {name: checks.get(name) for name in server} == server


def test_every_direct_dependency_is_locked():
    import tomllib

    from deploy.virtualenv import ROOT

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

    def names(lines):
        return {re.match(r"[A-Za-z0-9._-]+", line)[0].lower().replace("_", "-") for line in lines}

    assert names(project["dependencies"]) <= set(pinned(LOCK))
    assert names(project["optional-dependencies"]["check"]) <= set(pinned(LOCK_CHECK))
