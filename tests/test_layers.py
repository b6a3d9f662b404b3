"""The rooms import in one direction only, and the pure ones never load Django."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from deploy.virtualenv import ROOT

# each takes 15 to 50 MB of every worker, and none is needed for a usual request; scikit-rf (0.1 s and 15 MB)
# carries the core, and loads none of these by itself
HEAVY = [
    "scipy.stats",
    "scipy.optimize",
    "pandas",
    "altair",
    "vl_convert",
    "hypothesis",
    "matplotlib",
]
PURE_ROOMS = [
    "measurements.errors",
    "measurements.rf",
    "measurements.verdict",
    "measurements.fitness",
    "measurements.disclosure",
]


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
        "assert 'measurements.rf.ferrites.prediction' in sys.modules and 'scipy.special' in sys.modules\n"
        "assert 'skrf' in sys.modules\n"
        f"loaded = [name for name in {HEAVY!r} if name in sys.modules]\n"
        "assert not loaded, loaded"
    )
    assert done.returncode == 0, done.stderr[-2000:]


# the modules of a feature that other features of the same room may import; everything else is its own affair
FRONTS = {
    "measurements.rf": {
        "ferrites": {
            "core_names",
            "ferrite_cores",
            "learned_windings",
            "ratio_circuit",
            "ratio_windings",
            "winding_model",
            "winding_terms",
        },
        "instruments": {
            "assumed_errors",
            "decision",
            "error_budget",
            "impossible_figures",
            "jig",
            "port2_match",
            "port_errors",
            "resistors",
            "smoothing",
            "sweep_checks",
            "withheld_verdicts",
        },
        "kinds": {
            "balance",
            "choke_figures",
            "common_mode",
            "dc",
            "in_situ",
            "load_match",
            "reading_figures",
        },
        "loss": {"back_to_back", "device_pairs", "insertion_loss", "one_port"},
        "networks": {"series_through", "three_port", "two_port"},
        "sweeps": {"result_values", "sweep", "turned_sweeps"},
    },
    "measurements.services": {
        "accounts": {"accounts"},
        "analysers": {"descriptions"},
        "bundles": {"row_schema", "signing"},
        "check_standards": {"check_standards", "holds"},
        "designs": {"designs", "recipe_cores", "recipe_titles", "recipes"},
        "devices": {"attendance", "contributors", "device_fields", "devices", "due_marks", "label_codes"},
        "evidence": {"recipe_doubts"},
        "kit": {"loans"},
        "intakes": {"leases"},
        "nights": {"guests", "nights", "persons"},
        "operations": {"audit", "disk_room", "secret_hashes", "table_rows", "use_counts"},
        "reference": {"band_plan", "benchmarks", "fact_changes", "reference_files"},
        "releases": {"design_decisions", "published_ledger", "releases", "withdrawal"},
        "tests": {"analysis", "preparation", "results", "tests"},
        "upkeep": {"inspections", "photo_redrawing"},
        "uploads": {"archives", "dc_settings", "size_limits", "uploads"},
    },
    "measurements.selectors": {
        "check_standards": {"check_standards", "waiting"},
        "designs": {"design_filters", "designs", "recipe_checks"},
        "devices": {"devices", "owners"},
        "evidence": {"design_curves", "evidence", "evidence_table"},
        "intakes": {"intakes"},
        "nights": {"nights"},
        "operations": {"audit"},
        "predictions": {"prediction_basis"},
        "reference": {"reference"},
        "tests": {"filtered_tests", "tests"},
        "releases": {"release_files"},
    },
    "measurements.pages": {
        "accounts": {"browser_sessions", "forms", "reauthentication"},
        "check_standards": {"presenters"},
        "designs": {"forms", "judged_words", "presenters", "query_parameters"},
        "devices": {"card_presenters", "forms"},
        "guide": {"contents"},
        "intakes": {"forms"},
        "layout": {
            "cautions",
            "chart_replies",
            "device_filters",
            "embedded_files",
            "diagnosis_words",
            "fault_wording",
            "figures",
            "form_handling",
            "numbered_pages",
            "procedures",
            "rendering",
            "state_renewal",
            "tables",
            "throttling",
            "upkeep_wording",
            "wording",
        },
        "nights": {"presenters"},
        "predictions": {"presenters"},
        "steward": {"setup_steps"},
        "tests": {"presenters", "views"},
        "upkeep": {"trend_charts"},
        "uploads": {"forms", "kept_files", "staged_files"},
    },
}


@pytest.mark.parametrize("room", sorted(FRONTS))
def test_a_feature_imports_only_the_front_modules_of_another(room):
    """Every import from one feature folder of a room into another names a module of `FRONTS`."""
    folder = ROOT / room.replace(".", "/")
    strays, seen = set(), 0
    for path in sorted(folder.rglob("*.py")):
        feature = path.relative_to(folder).parts[0]
        if feature.endswith(".py"):
            continue  # the room's own door, such as urls.py or analysis.py, knows every feature
        for target in _imported_modules(path):
            rest = target.removeprefix(f"{room}.").split(".")
            if target.startswith(f"{room}.") and len(rest) > 1 and rest[0] != feature:
                seen += 1
                if rest[1] not in FRONTS[room].get(rest[0], set()):
                    strays.add(f"{path.relative_to(ROOT)} -> {target}")
    assert seen > 10 and not strays


def _imported_modules(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                found.add(full if (ROOT / f"{full.replace('.', '/')}.py").exists() else node.module)
    return found
