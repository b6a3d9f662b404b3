"""The table of security requirements is whole, counts itself rightly and points at what there is.

Numbers and levels: OWASP Application Security Verification Standard 5.0.0 (May 2025), its list of
requirements as CSV (OWASP/ASVS, 5.0/docs_en), levels 1 and 2. Chapters V9, V10 and V17 are left out;
the table says why.
"""

import ast
import re
from collections import Counter

import pytest

from deploy.virtualenv import ROOT

TABLE = ROOT / "deploy" / "ASVS.md"
VERDICTS = ("pass", "n/a", "gap")
FILE = re.compile(r"\w+\.(py|md|js|json|toml|txt|conf|yaml)")

# section -> levels of its requirements in order, from 1; 3 stands for one of level 3, which has no row
LEVELS = {
    "1.1": "22", "1.2": "1111122223", "1.3": "112222222223", "1.4": "222", "1.5": "123",
    "2.1": "122", "2.2": "112", "2.3": "12223", "2.4": "23",
    "3.1": "3", "3.2": "113", "3.3": "12223", "3.4": "11222233", "3.5": "11122333",
    "3.6": "3", "3.7": "22333",
    "4.1": "12233", "4.2": "23333", "4.3": "22", "4.4": "1222",
    "5.1": "2", "5.2": "112333", "5.3": "113", "5.4": "222",
    "6.1": "122", "6.2": "111111112222", "6.3": "11223333", "6.4": "112233", "6.5": "22222333", "6.6": "2223",
    "6.7": "33", "6.8": "2222",
    "7.1": "222", "7.2": "1111", "7.3": "22", "7.4": "11222", "7.5": "223", "7.6": "22",
    "8.1": "1233", "8.2": "1123", "8.3": "133", "8.4": "23",
    "11.1": "2233", "11.2": "22233", "11.3": "11233", "11.4": "1222", "11.5": "23", "11.6": "23",
    "11.7": "33",
    "12.1": "12233", "12.2": "11", "12.3": "22223",
    "13.1": "2333", "13.2": "222223", "13.3": "2233", "13.4": "1222233",
    "14.1": "22", "14.2": "12223333", "14.3": "122",
    "15.1": "12233", "15.2": "12233", "15.3": "1222222", "15.4": "3333",
    "16.1": "2", "16.2": "22222", "16.3": "2222", "16.4": "222", "16.5": "2223",
}  # fmt: skip
WANTED = {
    f"{section}.{number}": int(level)
    for section, levels in LEVELS.items()
    for number, level in enumerate(levels, 1)
    if level != "3"
}

# what rows of the table say is not there: modules that nothing of the server imports
NOT_IMPORTED = re.compile(
    r"subprocess|pickle|marshal|shelve|ldap3?|lxml|memcache|pymemcache|xml\.(etree|dom|sax)(?!\.saxutils).*"
    r"|urllib\.request|http\.client|requests|httpx|ftplib|telnetlib"
)
# the one module that asks another server: the keeper of a pool
ASKS = {"transport.py": {"urllib.request", "http.client"}}
NOT_CALLED = {"eval", "exec", "__import__", "mark_safe", "from_string", "md5", "sha1", "system", "popen"}
NOT_IN_SCRIPTS = (
    "eval(",
    "Function(",
    "postMessage",
    "localStorage",
    "sessionStorage",
    "indexedDB",
    "document.write",
)
NOT_IN_TEMPLATES = ("|safe", "autoescape off", "safeseq")


def rows():
    found = []
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split(" | ")]
        if re.fullmatch(r"\d+\.\d+\.\d+", cells[0]):
            assert len(cells) == 5, line
            found.append(cells)
    return found


ROWS = rows()


def test_every_requirement_of_level_1_and_2_has_one_row_at_its_level():
    numbers = Counter(row[0] for row in ROWS)
    assert [number for number, times in numbers.items() if times > 1] == []
    assert {number: int(level) for number, level, *_ in ROWS} == WANTED
    # the standard has 70 of level 1 and 183 of level 2, the chapters that are left out 9 and 34 of them
    assert Counter(WANTED.values()) == {1: 70 - 9, 2: 183 - 34}


def test_the_counts_are_those_of_the_rows():
    verdicts = Counter(row[3] for row in ROWS)
    assert set(verdicts) <= set(VERDICTS)
    counted = (
        f"{len(ROWS)} requirements; {verdicts['pass']} pass, {verdicts['n/a']} not applicable, "
        f"{verdicts['gap']} gap"
    )
    assert f"Counts: {counted}." in TABLE.read_text(encoding="utf-8")
    developers = " ".join((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split())
    assert "[deploy/ASVS.md](deploy/ASVS.md)" in developers
    assert counted in developers


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_a_row_points_at_what_there_is(row):
    number, _, asks, verdict, where = row
    assert asks and where, number
    named = [each for each in re.findall(r"`([^`]+)`", where) if "/" in each or FILE.fullmatch(each)]
    for each in named:
        path, _, inside = each.partition("::")
        assert (ROOT / path).is_file(), f"{number}: there is no {path}"
        if inside:
            definition = rf"^\s*(?:def|class) {re.escape(inside)}\b"
            assert re.search(definition, (ROOT / path).read_text(encoding="utf-8"), re.MULTILINE), each
    if verdict == "pass":
        assert named, f"{number} passes and names nothing that shows it"
    if verdict == "gap":
        assert re.match(r"missing: (\S+ ){3}", where), f"{number} does not say what is missing"


def served():
    """The sources of the rooms that answer requests."""
    for room in ("measurements", "api"):
        yield from sorted((ROOT / room).rglob("*.py"))


def names_called(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            called = node.func
            yield called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")


def imported(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def test_what_rows_say_is_not_there_is_not_there():
    faults = []
    for path in served():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        unwanted = {name for name in imported(tree) if NOT_IMPORTED.fullmatch(name)}
        faults += [(path.name, name) for name in unwanted - ASKS.get(path.name, set())]
        faults += [(path.name, name) for name in names_called(tree) if name in NOT_CALLED]
    pages = ROOT / "measurements" / "pages"
    for path in sorted((pages / "static").rglob("*.js")):
        text = path.read_text(encoding="utf-8")
        faults += [(path.name, word) for word in NOT_IN_SCRIPTS if word in text]
    for path in [*ROOT.glob("measurements/**/*.html"), *ROOT.glob("api/**/*.html")]:
        text = path.read_text(encoding="utf-8")
        faults += [(path.name, word) for word in NOT_IN_TEMPLATES if word in text]
    assert faults == []


@pytest.mark.parametrize(
    "name", ["subprocess", "pickle", "xml.etree.ElementTree", "xml.sax", "urllib.request", "ldap3"]
)
def test_a_module_of_that_kind_would_be_found(name):
    assert list(filter(NOT_IMPORTED.fullmatch, imported(ast.parse(f"import {name}"))))
    assert not NOT_IMPORTED.fullmatch("xml.sax.saxutils")
