"""Tools that read tables, each on a live server: the lines that a person writes, and the seconds they take.

Run with `-s` to see the table tool x table. The lines of the examples on the page /data/ are run by
`test_pasted_examples.py`; what is here reads every table with every tool and compares what they read.
"""

from __future__ import annotations

import csv
import importlib.resources
import io
import time
import urllib.request
from pathlib import Path

import frictionless
import pytest
from django.core.signals import request_started

from tests.clients.conftest import PYTHON, Group, run

pytestmark = pytest.mark.django_db(transaction=True)

# a table and its address below /api/v1/, readable for everybody
FILES = {
    "evidence.csv": "releases/latest/files/evidence.csv/",
    "evidence.ndjson": "releases/latest/files/evidence.ndjson/",
}
LISTS = {
    name: f"{name}/?format=csv" for name in ("bands", "mixes", "cores", "designs", "releases", "evidence")
}
# tool -> what its user writes; ADDRESS is the table's. The last line leaves rows and columns.
CSV_TOOLS = {
    "pandas": "import pandas\ntable = pandas.read_csv(ADDRESS)\nshape = table.shape",
    "polars": "import polars\ntable = polars.read_csv(ADDRESS)\nshape = table.shape",
    "standard csv": "import csv, io, urllib.request\ntext = urllib.request.urlopen(ADDRESS).read().decode()\n"
    "table = list(csv.reader(io.StringIO(text)))\nshape = (len(table) - 1, len(table[0]))",
    "frictionless": "from frictionless import Resource\ntable = Resource(ADDRESS, format='csv').read_rows()\n"
    "shape = (len(table), len(table[0]))",
}
JSON_TOOLS = {
    "pandas": "import pandas\ntable = pandas.read_json(ADDRESS, lines=True)\nshape = table.shape",
    "polars": "import polars\ntable = polars.read_ndjson(ADDRESS)\nshape = table.shape",
}
# these read a file in parts: they ask for its size and for ranges of bytes
RANGE_TOOLS = {
    "polars, lazily": "import polars\ntable = polars.scan_csv(ADDRESS).collect()\nshape = table.shape",
    "duckdb": "import duckdb\nduckdb.load_extension(HTTPFS)\n"
    "table = duckdb.read_csv(ADDRESS)\nshape = (len(table), len(table.columns))",
}
# a list is sent while it is read: it has no length and no parts, so the tool is handed the open reply
LIST_TOOLS = CSV_TOOLS | {
    "polars": "import polars, urllib.request\ntable = polars.read_csv(urllib.request.urlopen(ADDRESS))\n"
    "shape = table.shape",
}
MOST_LINES = 3  # to a table, without the line that says its shape


def find_httpfs() -> str:
    """Path of duckdb's extension for HTTP, which a wheel brings: nothing is fetched."""
    folder = Path(str(importlib.resources.files("duckdb_extension_httpfs")))
    return str(next(folder.rglob("httpfs.duckdb_extension")))


def ask_tool(group: Group, code: str, address: str, place) -> tuple[tuple[int, int], float]:
    """Start the tool as its user would; rows and columns that it found, and its seconds."""
    named = code.replace("ADDRESS", repr(address)).replace("HTTPFS", repr(find_httpfs()))
    began = time.perf_counter()
    done = run([PYTHON, "-c", f"{named}\nprint(*shape)"], place)
    seconds = time.perf_counter() - began
    assert done.returncode == 0, f"{address}\n{named}\n{done.stderr}"
    rows, columns = done.stdout.split()[-2:]
    return (int(rows), int(columns)), seconds


def count_lines(code: str) -> int:
    return len([line for line in code.splitlines() if not line.startswith("shape")])


def read_plainly(address: str) -> tuple[int, int]:
    with urllib.request.urlopen(address, timeout=30) as reply:
        rows = list(csv.reader(io.StringIO(reply.read().decode(), newline="")))
    assert {len(row) for row in rows} == {len(rows[0])}
    return len(rows) - 1, len(rows[0])


def test_every_tool_reads_every_table(group: Group, tmp_path):
    told = [("tool", "table", "lines", "seconds")]
    for name, path in {"evidence.csv": FILES["evidence.csv"], **LISTS}.items():
        expected = read_plainly(group.api + path)
        assert expected[0] > 0
        tools = CSV_TOOLS | RANGE_TOOLS if name in FILES else LIST_TOOLS
        for tool, code in tools.items():
            if name in LISTS and name not in ("bands", "evidence") and tool != "pandas":
                continue  # of lists, whose form is one, bands and evidence are enough
            shape, seconds = ask_tool(group, code, group.api + path, tmp_path)
            assert shape == expected, (tool, name)
            told.append((tool, name, str(count_lines(code)), f"{seconds:.1f}"))
            assert count_lines(code) <= MOST_LINES, tool
    for tool, code in JSON_TOOLS.items():
        shape, seconds = ask_tool(group, code, group.api + FILES["evidence.ndjson"], tmp_path)
        assert shape[0] == read_plainly(group.api + FILES["evidence.csv"])[0], tool
        assert count_lines(code) <= MOST_LINES, tool
        told.append((tool, "evidence.ndjson", str(count_lines(code)), f"{seconds:.1f}"))
    print("\n" + "\n".join(" | ".join(each) for each in told))


@pytest.fixture
def ranges():
    """Range headers of the requests that the live server got."""
    seen: list[str] = []

    def note(environ, **_more):
        seen.append(environ.get("HTTP_RANGE", ""))

    request_started.connect(note)
    yield seen
    request_started.disconnect(note)


@pytest.mark.parametrize("tool", list(RANGE_TOOLS))
def test_a_tool_that_reads_in_parts_gets_parts(group: Group, tmp_path, ranges, tool):
    """It asks for ranges of bytes, and what it puts together is the file."""
    address = group.api + FILES["evidence.csv"]
    shape, _ = ask_tool(group, RANGE_TOOLS[tool], address, tmp_path)
    assert any(asked.startswith("bytes=") for asked in ranges), ranges
    assert shape == read_plainly(address)


def test_a_cut_download_goes_on_where_it_stopped(group: Group, tmp_path, ranges):
    """curl `-C -` asks for the rest alone; If-Range is the tag of the file."""
    address = group.api + FILES["evidence.csv"]
    whole = urllib.request.urlopen(address, timeout=30).read()
    (tmp_path / "evidence.csv").write_bytes(whole[:100])
    done = run(["curl", "-sSL", "-C", "-", "-o", "evidence.csv", address], tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "evidence.csv").read_bytes() == whole and "bytes=100-" in ranges


def test_a_statistics_package_reads_the_columns_by_its_rules(group: Group):
    """`read.csv` of R: header in the first line, `"` quotes, empty is NA among numbers (R, read.table).

    By the csv module: no R is here. R turns a column into numbers when every cell is one or empty.
    """
    text = urllib.request.urlopen(group.api + FILES["evidence.csv"], timeout=30).read().decode()
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert rows and all(None not in row and None not in row.values() for row in rows)
    numbers = {
        name
        for name in rows[0]
        if all(is_number(row[name]) for row in rows) and any(row[name] for row in rows)
    }
    assert {"release", "turns", "stacked", "benchmark_db", "rejection_db.median"} <= numbers
    assert not numbers & {"title", "mix_name", "band", "design", "quarter", "conductor"}
    assert "#" not in text.split("\n", 1)[0]  # no comment character in a heading


def is_number(cell: str) -> bool:
    try:
        return cell == "" or float(cell) == float(cell)
    except ValueError:
        return False


@pytest.mark.parametrize("release", ["1", "latest"])
def test_a_data_package_is_opened_by_its_address(group: Group, release):
    """The tables are found beside the package, hashes and types hold: nothing but the address is given."""
    address = f"{group.api}releases/{release}/files/datapackage.json"
    report = frictionless.validate(address)
    assert report.valid, report.flatten(["title", "message"])
    table = frictionless.Package(address).get_resource("evidence-csv").read_rows()
    assert len(table) == read_plainly(group.api + FILES["evidence.csv"])[0]
    assert isinstance(table[0]["turns"], int) and isinstance(table[0]["core_part"], str)
