"""deploy/check: every check of the project, on both database engines. Standard library only.

Steps that fail do not stop the others. The last step is pytest on SQLite; it knows the earlier steps that
failed and fails for them (tests/test_check_steps.py), so that its summary, the last line, is the truth.
"""

from __future__ import annotations

import argparse
import os
import secrets
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from deploy import virtualenv
from deploy.virtualenv import ROOT, NotReadyError, print_progress

FAILED_STEPS = "BENCHNIGHT_FAILED_STEPS"
# What can differ between the engines: constraints, locks, SQL by hand, streaming, migrations, every write and
# read of tables, and of the doors the resources of the API and the pages that write most. The other pages and
# the tests of addresses, forms and words reach the tables through the same services and selectors.
DATABASE_TESTS = [
    "models",
    "services",
    "selectors",
    "api/http",
    "api/resources",
    "api/test_query_counts.py",
    "api/test_operator_attacks.py",
    "disclosure_end_to_end",
    "pages/accounts",
    "pages/intakes",
    "pages/uploads",
    "deploy/test_database.py",
    "deploy/test_health.py",
    "deploy/test_metrics.py",
]
# of those, what reads every address, form and word, what counts people over many releases (24 releases run on
# both), and what brings databases of its own
ONE_ENGINE_TESTS = [
    "services/bundles/test_two_databases.py",
    "api/http/test_strict_input.py",
    "disclosure_end_to_end/test_claims_over_releases.py",
    "disclosure_end_to_end/test_no_single_device.py",
    "api/resources/test_analyse_forms.py",
    "disclosure_end_to_end/test_canary.py",
    "disclosure_end_to_end/test_intruder_doors.py",
]
# one order of tests for everybody: plain `pytest` shuffles anew each time and so finds hidden couplings
PYTEST = ["-m", "pytest", "-q", "-n", "2", "--dist", "loadfile", "-p", "no:cacheprovider"]
SEED = "--randomly-seed=73"


@dataclass(frozen=True)
class Step:
    """One check: a name for people, a command run with the environment's Python, extra variables."""

    name: str
    command: list[str]
    variables: dict[str, str] = field(default_factory=dict)


def list_steps() -> list[Step]:
    """Return everything before the last pytest run, cheapest first."""
    deployed = {
        "BENCHNIGHT_TLS": "true",
        "BENCHNIGHT_PROXIES": "1",
        "BENCHNIGHT_HOSTS": "bench.example",
        "BENCHNIGHT_SECRET_KEY": secrets.token_urlsafe(64),
        "BENCHNIGHT_DATABASE_URL": "postgresql://bench@db.example/bench",
    }
    manage = ["-W", "error", "manage.py"]
    stored = [f"tests/{part}" for part in DATABASE_TESTS]
    stored += [f"--ignore=tests/{part}" for part in ONE_ENGINE_TESTS]
    return [
        Step("format", ["-m", "ruff", "format", "--check", "."]),
        Step("lint", ["-m", "ruff", "check", "."]),
        Step("import layers", ["-c", "from importlinter.cli import lint_imports_command as run; run()"]),
        Step("types", ["-m", "mypy"]),
        Step("migrations", [*manage, "makemigrations", "--check", "--dry-run"]),
        Step("API schema", ["-m", "deploy.schema_diff"]),
        Step("deployment settings", [*manage, "check", "--deploy", "--fail-level", "WARNING"], deployed),
        Step(
            "tests on PostgreSQL",
            [
                "-m",
                "deploy.postgresql",
                sys.executable,
                *PYTEST,
                SEED,
                "-m",
                "not faults and not long and not browser",
                *stored,
            ],
        ),
    ]


def main() -> int:
    options = _options()
    try:
        python = virtualenv.ensure_packages(virtualenv.LOCK_CHECK)
    except NotReadyError as error:
        sys.stderr.write(f"\n{error}\n")
        return 1
    chosen = [_resolve_path(path, options.called_from) for path in options.paths]
    with tempfile.TemporaryDirectory(prefix="benchnight-check-") as scratch:
        failed: list[str] = []
        if not chosen and not options.faults and not options.long:
            failed = _run_earlier_steps(python, scratch)
        elif options.long and not chosen:
            samples = Step("mutation samples", ["-m", "deploy.mutants"])
            failed = [] if _run_step(samples, python, scratch) else [samples.name]
        if failed:
            print_progress(f"Failed so far: {', '.join(failed)}")
        name, marked = _choose_tests(options)
        last = Step(
            name,
            [*PYTEST, SEED, "-m", marked, *chosen],
            {
                FAILED_STEPS: ", ".join(failed),
                "BENCHNIGHT_DATABASE_URL": "",
                "BENCHNIGHT_LONG": "1" if options.long else "",
            },
        )
        return 0 if _run_step(last, python, scratch, is_last=True) and not failed else 1


def _run_earlier_steps(python: Path, scratch: str) -> list[str]:
    """Run all steps but the last, those without tests two at a time; answers the names that failed."""
    *quick, stored = list_steps()
    with ThreadPoolExecutor(max_workers=2) as pool:
        held = list(pool.map(lambda step: _run_step(step, python, scratch, is_shared=True), quick))
    failed = [step.name for step, passed in zip(quick, held, strict=True) if not passed]
    return failed if _run_step(stored, python, scratch) else [*failed, stored.name]


def _choose_tests(options: argparse.Namespace) -> tuple[str, str]:
    """Name the last step and give the markers of its tests. Long tests print the tables that they count."""
    if options.faults:
        return "fault tests", "faults"
    if options.long:
        return "long tests", "long or fuzz"
    return "tests on SQLite", "not faults and not long"


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="deploy/check",
        allow_abbrev=False,
        description="Runs every check: format, lint, import layers, types, migrations, API schema, "
        "deployment settings, the tests on PostgreSQL and on SQLite, and the pages in headless Chromium.",
        epilog="BENCHNIGHT_REQUIRE_BROWSER=1 makes a missing browser an error.",
    )
    parser.add_argument("--called-from", default=".", help=argparse.SUPPRESS)
    parser.add_argument("--faults", action="store_true", help="run the long fault tests instead")
    parser.add_argument(
        "--long", action="store_true", help="run the long simulations, fuzzing and mutation samples instead"
    )
    parser.add_argument("paths", nargs="*", metavar="PATH", help="run just these tests, on SQLite")
    return parser.parse_args()


def _resolve_path(path: str, called_from: str) -> str:
    """Return a test path as given from the caller's directory, or else from the project's."""
    file, separator, test = path.partition("::")
    for start in (Path(called_from), ROOT):
        if (start / file).exists():
            return f"{start / file}{separator}{test}"
    sys.stderr.write(f"There is no {file} in {called_from} or in the project.\n")
    sys.exit(2)


def _run_step(
    step: Step, python: Path, scratch: str, *, is_last: bool = False, is_shared: bool = False
) -> bool:
    """Run one step with its output shown; the checks never touch the data under var/.

    is_shared: another step runs at the same time, so the output is shown whole at the end.
    """
    if not is_shared:
        print_progress(f"\n== {step.name}")
    variables = {
        **{name: value for name, value in os.environ.items() if not name.startswith("DJANGO_")},
        "BENCHNIGHT_VAR": scratch,
        **step.variables,
    }
    command = [str(python) if word == sys.executable else word for word in step.command]
    started = time.monotonic()
    output = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT} if is_shared else {}
    done = subprocess.run(
        [str(python), *command], cwd=ROOT, env=variables, check=False, text=True, errors="replace", **output
    )
    if not is_last:
        outcome = "passed" if done.returncode == 0 else "FAILED"
        heading = f"\n== {step.name}\n{done.stdout.rstrip()}\n" if is_shared else ""
        print_progress(f"{heading}-- {step.name}: {outcome} in {time.monotonic() - started:.0f} s")
    return done.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
