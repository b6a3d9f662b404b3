"""What may stand in the repository: its top level, its modes, and no trace of one machine or network."""

import os
import re
import subprocess

import pytest

from deploy.virtualenv import ROOT

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "pyproject.toml",
    "measurements", "api", "deploy", "tests", "fixtures",
}  # fmt: skip
EXECUTABLE = [".ci/run", "deploy/run", "deploy/check", "deploy/lock", "deploy/find-python"]
# a home or scratch directory, or where packages were fetched from. Split, so as not to match itself.
MACHINE_PATH = re.compile(
    "(^|[^A-Za-z0-9_./])/(?:" + "root|" + "work|" + "home/[a-z]+|" + "Users/[A-Za-z]+|" + "tmp/[a-z0-9_-]+)/"
)
REGISTRY = re.compile(
    "py" + r"pi\.(org|python)|" + "python" + r"hosted\.|" + "npm" + r"js\.|"
    "--(extra-)?index-" + "url[ =]|--trusted-" + "host[ =]|--find-" + "links[ =]"
)  # fmt: skip


def tracked() -> list[str]:
    try:
        listed = subprocess.run(
            ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("this copy is not a git work tree")
    return [name for name in listed.split("\0") if name and (ROOT / name).exists()]


def texts():
    for name in tracked():
        try:
            yield name, (ROOT / name).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # sample sweeps in other encodings, pictures


def test_the_top_level_holds_what_it_should():
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("name", EXECUTABLE)
def test_commands_are_executable(name):
    assert os.access(ROOT / name, os.X_OK)
    if (ROOT / ".git").exists():
        mode = subprocess.run(
            ["git", "ls-files", "-s", name], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
        assert mode.startswith("100755"), f"git does not keep {name} executable"


def test_no_path_of_one_machine_in_any_file():
    found = {name for name, text in texts() for line in text.splitlines() if MACHINE_PATH.search(line)}
    assert found == set()


def test_no_package_registry_in_any_file():
    """The lock files too: whoever installs decides where packages come from."""
    assert {name for name, text in texts() if REGISTRY.search(text)} == set()


def test_nothing_that_the_program_makes_is_tracked():
    made = re.compile(
        r"(^|/)(var|__pycache__|\.venv|node_modules|\.hypothesis)/|\.sqlite3|\.min\.js$|\.woff2?$"
    )
    assert [name for name in tracked() if made.search(name)] == []
