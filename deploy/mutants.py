"""Mutation testing: do the tests of a pure room notice when its code is changed?

    python -m deploy.mutants [--sample N] [ROOM...]

For each room mutmut writes many small changes (a sign, a bound, a default) into a copy of the project. N of
them, the same every time, chosen by the hash of their names, are run against the tests of that room. Changes
that no test noticed are printed as diffs: read them, and cover each by a test unless it changes nothing.

A value that a cache computed before is not computed again: its change may count as unnoticed, wrongly.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from deploy.virtualenv import ROOT, print_progress

ROOMS = ("rf", "verdict", "disclosure")
SAMPLE = 200
LEAST_KILLED = 0.7  # of a sample; below it the tests of a room are no net
COPIED = ("api", "deploy", "fixtures", "measurements", "tests", "manage.py", "pyproject.toml")
# simulations count frequencies for minutes; a change that only they notice counts as unnoticed
MARKED = "not long and not fuzz and not faults and not browser and not postgresql"
KILLED = (1, 3)  # how pytest ends when a test fails, or when the changed module cannot even be imported
TIMED_OUT = (-24, 24, 36, 152, 255)
# the tool has no command that only writes its changes: a run of names that no change has ends after writing
NO_MUTANT = "no.such.change*"


@dataclass(frozen=True)
class Outcome:
    """How the sample of one room ended: names of changes that tests noticed, and of those that none did."""

    room: str
    noticed: list[str]
    unnoticed: list[str]

    @property
    def share(self) -> float:
        return len(self.noticed) / max(len(self.noticed) + len(self.unnoticed), 1)


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="deploy.mutants", description="Changes code and runs its tests.")
    parser.add_argument("--sample", type=int, default=SAMPLE, help="changes to try in each room")
    parser.add_argument("rooms", nargs="*", default=list(ROOMS), metavar="ROOM", help=", ".join(ROOMS))
    options = parser.parse_args(arguments)
    outcomes = [try_sample(room, options.sample) for room in options.rooms]
    for outcome in outcomes:
        print_progress(
            f"{outcome.room}: tests noticed {len(outcome.noticed)} changes, {len(outcome.unnoticed)} went by "
            f"({outcome.share:.0%} noticed, at least {LEAST_KILLED:.0%} wanted)"
        )
    return 0 if all(outcome.share >= LEAST_KILLED for outcome in outcomes) else 1


def try_sample(room: str, count: int) -> Outcome:
    """Try `count` changes of a room in a copy of the project and print those that no test noticed."""
    with tempfile.TemporaryDirectory(prefix="benchnight-mutants-") as directory:
        copy = Path(directory)
        _copy_project(copy, room)
        _run_tool(copy, "run", NO_MUTANT)
        chosen = choose_sample(list(_read_results(copy)), count)
        _run_tool(copy, "run", *chosen)
        results = _read_results(copy)
        outcome = sort_results(room, {name: results[name] for name in chosen})
        for name in outcome.unnoticed:
            print_progress(_run_tool(copy, "show", name))
    return outcome


def choose_sample(names: list[str], count: int) -> list[str]:
    """Choose the same names every time; a change of the code elsewhere does not choose others."""
    return sorted(names, key=lambda name: hashlib.sha256(name.encode()).hexdigest())[:count]


def sort_results(room: str, results: dict[str, int | None]) -> Outcome:
    """Tell changes that tests noticed (by failing, or by never ending) from those that none did.

    results: exit codes of the tests by the name of the change. Raises RuntimeError for one that was not run.
    """
    if missing := [name for name, code in results.items() if code is None]:
        raise RuntimeError(f"{len(missing)} changes of {room} were not tried, the first: {missing[0]}")
    noticed = [name for name, code in results.items() if code in KILLED + TIMED_OUT]
    return Outcome(room, noticed, [name for name in results if name not in noticed])


def _copy_project(copy: Path, room: str) -> None:
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, copy / name)
    added = {
        "source_paths": [f"measurements/{room}"],
        "also_copy": list(COPIED),
        "pytest_add_cli_args": ["-p", "no:randomly", "-p", "no:cacheprovider", "-m", MARKED],
        "pytest_add_cli_args_test_selection": [f"tests/{room}"],
    }
    lines = [f"{name} = {json.dumps(value)}" for name, value in added.items()]
    with (copy / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write("\n".join(["", "[tool.mutmut]", *lines, "use_git_change_detection = false", ""]))


def _run_tool(copy: Path, *arguments: str) -> str:
    """Run mutmut in the copy; answers its output. What it exits with says nothing about its changes."""
    command = [str(Path(sys.executable).with_name("mutmut")), *arguments]
    done = subprocess.run(command, cwd=copy, capture_output=True, text=True, errors="replace", check=False)
    if done.returncode and NO_MUTANT not in arguments:
        raise RuntimeError(f"mutmut {arguments[0]} failed:\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}")
    return done.stdout


def _read_results(copy: Path) -> dict[str, int | None]:
    """Read the exit codes of all changes that the tool wrote, None for those not run."""
    results: dict[str, int | None] = {}
    for path in sorted((copy / "mutants").rglob("*.meta")):
        results |= json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
    if not results:
        raise RuntimeError("the tool wrote no changes")
    return results


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
