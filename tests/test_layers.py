"""The rooms import in one direction only, and the pure ones never load Django."""

import subprocess
import sys

import pytest

from deploy.virtualenv import ROOT

# each takes 15 to 50 MB of every worker, and none is needed for a usual request
HEAVY = [
    "scipy.stats",
    "scipy.optimize",
    "skrf",
    "pandas",
    "altair",
    "vl_convert",
    "hypothesis",
    "matplotlib",
]
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


def test_a_web_worker_loads_no_heavy_library(tmp_path):
    """All that a worker has imported once it knows every address (`deploy/bench memory` measures it)."""
    done = run(
        "import os, sys\n"
        f"os.environ.update(BENCHNIGHT_VAR={str(tmp_path)!r}, BENCHNIGHT_SECRET_KEY='k' * 60)\n"
        "import deploy.wsgi, deploy.urls\n"
        "assert 'measurements.rf.predicting' in sys.modules and 'scipy.special' in sys.modules\n"
        f"loaded = [name for name in {HEAVY!r} if name in sys.modules]\n"
        "assert not loaded, loaded"
    )
    assert done.returncode == 0, done.stderr[-2000:]
