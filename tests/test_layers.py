"""The rooms import in one direction only, and the pure ones never load Django."""

import subprocess
import sys

import pytest

from deploy.virtualenv import ROOT

PURE_ROOMS = ["measurements.errors", "measurements.rf", "measurements.verdict", "measurements.disclosure"]


def run(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False, timeout=300
    )


def test_the_import_layers_of_pyproject_hold():
    done = run("from importlinter.cli import lint_imports_command as lint; lint(['--no-cache'])")
    assert done.returncode == 0, done.stdout[-4000:]
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("room", PURE_ROOMS)
def test_a_pure_room_is_imported_whole_without_django(room):
    """The linter cannot see code in `measurements/__init__.py`; a fresh interpreter can."""
    done = run(
        "import importlib, pkgutil, sys\n"
        f"room = importlib.import_module({room!r})\n"
        "for module in pkgutil.walk_packages(getattr(room, '__path__', []), room.__name__ + '.'):\n"
        "    importlib.import_module(module.name)\n"
        "loaded = [name for name in sys.modules if name.split('.')[0] in ('django', 'rest_framework')]\n"
        "assert not loaded, loaded[:5]\n"
        "print(len(sys.modules))"
    )
    assert done.returncode == 0, done.stderr[-2000:]
