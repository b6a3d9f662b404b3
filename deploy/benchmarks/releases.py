"""A release over all tests against one pass over the same rows; and the next one, after a few new tests."""

from __future__ import annotations

import secrets
import time

import psycopg

from deploy.benchmarks.stack import Group, Run, make_release
from deploy.benchmarks.timing import Figure

NEW_TESTS = 100
MOST_PASSES = 5.0
FEW_TESTS, MOST_S = 10_000, 20.0
# every result that counts, with whose it is; figures as the server sends them, not taken apart
_ALL_RESULTS = (
    "{figures}, r.evidence_curve, t.key, d.key, c.key FROM measurements_result r "
    "JOIN measurements_test t ON t.id = r.test_id JOIN measurements_device d ON d.id = t.device_id "
    "JOIN measurements_contributor c ON c.id = d.contributor_id WHERE r.current AND r.counts_as_evidence"
)
WHOLE_QUERY = f"SELECT {_ALL_RESULTS.format(figures='r.figures::text')}"
PUBLISHED_QUERY = f"SELECT {_ALL_RESULTS.format(figures='r.published::text')}"


def measure_releases(run: Run) -> list[Figure]:
    """Return at the largest data set."""
    group = run.group(run.sizes[-1])
    full_s = group.release_s
    one_pass_s, published_s = _measure_one_pass(group, WHOLE_QUERY), _measure_one_pass(group, PUBLISHED_QUERY)
    _add_tests(group)
    next_s, _ = make_release(group.environ)
    idle_s, _ = make_release(group.environ)
    return [
        _judge_first_release(group.tests, full_s, one_pass_s, published_s),
        Figure.ratio(
            f"release after {NEW_TESTS} new tests, to one pass of SQL",
            next_s / one_pass_s,
            MOST_PASSES,
            f"{next_s:.1f} s to {one_pass_s:.1f} s; with nothing new {idle_s:.1f} s",
        ),
        Figure("its files, written anew each time", f"{group.files_s:.1f} s", "", None),
    ]


def _judge_first_release(tests: int, full_s: float, one_pass_s: float, published_s: float) -> Figure:
    """Return few tests take seconds, most of them for each design; many take a number of passes."""
    detail = f"{full_s:.1f} s to {one_pass_s:.1f} s; a pass over what it reads of them: {published_s:.1f} s"
    if tests <= FEW_TESTS:
        name = f"first release over {tests} tests"
        return Figure(name, detail, f"at most {MOST_S:g} s", full_s <= MOST_S)
    name = f"first release over {tests} tests, to one pass of SQL"
    return Figure.ratio(name, full_s / one_pass_s, MOST_PASSES, detail)


def _measure_one_pass(group: Group, query: str) -> float:
    """Return seconds to read every row that a full release publishes, a thousand at a time."""
    with psycopg.connect(group.environ["BENCHNIGHT_DATABASE_URL"]) as connection:
        # all rows are wanted: for the first few the server would go through indexes, row by row
        connection.execute("SET cursor_tuple_fraction = 1")
        began = time.perf_counter()
        with connection.cursor(name="one_pass") as cursor:
            cursor.itersize = 1000
            cursor.execute(query)
            for _row in cursor:
                pass
        return time.perf_counter() - began


def _add_tests(group: Group) -> None:
    """Add devices to ten designs, each with a test like an existing one."""
    with psycopg.connect(group.environ["BENCHNIGHT_DATABASE_URL"]) as connection:
        copied = connection.execute(
            "SELECT d.id, t.id, r.id FROM measurements_result r JOIN measurements_test t ON t.id = r.test_id "
            "JOIN measurements_device d ON d.id = t.device_id WHERE d.design_id IN "
            "(SELECT design_id FROM measurements_cell WHERE last_release IS NULL LIMIT 10) LIMIT %s",
            [NEW_TESTS],
        ).fetchall()
        for device, test, result in copied:
            _duplicate_test(connection, device, test, result)


def _duplicate_test(connection: psycopg.Connection, device: int, test: int, result: int) -> None:
    """Another contributor's device with the same test; every other column is as it was."""
    changed = {"tag": "md5(random()::text)", "key": f"'{secrets.token_hex(6)}'"}
    owner = "(SELECT id FROM measurements_contributor ORDER BY random() LIMIT 1)"
    new_device = _copy_row(connection, "device", device, {**changed, "contributor_id": owner})
    test_key = f"'{secrets.token_hex(6)}'"
    new_test = _copy_row(connection, "test", test, {"device_id": str(new_device), "key": test_key})
    _copy_row(connection, "result", result, {"test_id": str(new_test)})


def _copy_row(connection: psycopg.Connection, table: str, row: int, changes: dict[str, str]) -> int:
    name = f"measurements_{table}"
    columns = [
        column[0]
        for column in connection.execute(
            "SELECT column_name FROM information_schema.columns WHERE table_name = %s", [name]
        )
        if column[0] != "id"
    ]
    values = ", ".join(changes.get(column, f'"{column}"') for column in columns)
    listed = ", ".join(f'"{column}"' for column in columns)
    # names of our own tables and columns, and what this module made
    query = f"INSERT INTO {name} ({listed}) SELECT {values} FROM {name} WHERE id = {row} RETURNING id"  # noqa: S608
    found = connection.execute(query).fetchone()
    if found is None:
        raise RuntimeError(f"{name} {row} is gone.")
    return int(found[0])
