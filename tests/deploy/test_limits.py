"""deploy/LIMITS.md tells the truth: settings exist, values are the defaults, and the tests are there."""

from __future__ import annotations

import ast
import importlib
import re

import pytest

from deploy import environment
from deploy.virtualenv import ROOT

TEXT = (ROOT / "deploy" / "LIMITS.md").read_text(encoding="utf-8")
ROW = re.compile(
    r"^\| (?P<limit>[^|]+) \| (?P<value>[\d,]+(?: MiB)?) \| `(?P<setting>[\w.]+)` \| (?P<rest>.+) \|$"
)
ROWS = [found for line in TEXT.splitlines() if (found := ROW.match(line))]
# every setting that bounds something; a new one without a row fails
BOUNDS = {
    setting.name
    for setting in environment.SETTINGS
    if setting.name.endswith(("_BYTES", "_PER_MINUTE", "_PER_HOUR", "_POINTS", "_ENTRIES", "_RATIO"))
}


def number(value: str) -> int:
    plain = int(value.removesuffix(" MiB").replace(",", ""))
    return plain * environment.MEBIBYTE if value.endswith(" MiB") else plain


def default_of(name: str) -> int:
    if name.startswith("BENCHNIGHT_"):
        return next(each.default for each in environment.SETTINGS if each.variable == name)
    module, _, constant = name.rpartition(".")
    return getattr(importlib.import_module(module), constant)


def functions(file: str) -> set[str]:
    """Names of the tests of a file, those of a class as `Class::name`."""
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    found = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
    for group in (node for node in tree.body if isinstance(node, ast.ClassDef)):
        found |= {f"{group.name}::{node.name}" for node in group.body if isinstance(node, ast.FunctionDef)}
    return found


def test_every_line_of_the_tables_is_understood():
    lines = [line for line in TEXT.splitlines() if line.startswith("| ") and "`" in line]
    assert len(ROWS) == len(lines) > 15


@pytest.mark.parametrize("row", ROWS, ids=[row["limit"] for row in ROWS])
def test_the_value_is_the_default_and_the_tests_are_there(row):
    assert number(row["value"]) == default_of(row["setting"])
    status, told, shown = row["rest"].split(" | ")
    assert status in ("400", "413", "429") and told
    named = re.findall(r"`(tests/[\w/]+\.py)::([\w:]+)`", shown)
    assert named, "no test shows this limit"
    for file, test in named:
        assert test in functions(file), f"{file}::{test}"


def test_every_setting_that_bounds_something_is_listed():
    listed = {row["setting"].removeprefix("BENCHNIGHT_") for row in ROWS}
    assert listed >= BOUNDS


def test_the_reader_takes_as_many_points_as_a_server_may_allow():
    from measurements.rf.sweeps import file_limits

    setting = next(each for each in environment.SETTINGS if each.name == "SWEEP_POINTS")
    assert setting.default == file_limits.MAX_POINTS
