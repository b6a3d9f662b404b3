"""A database from before curves were packed keeps every one, forward and back."""

from __future__ import annotations

import pytest
from django.db import connection

from measurements.rf.sweeps import result_values

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE = ("measurements", "0009_audit_of_the_catalogue")
AFTER = ("measurements", "0010_packed_traces")
# seven digits each, as they were stored
TRACES = {
    "freq_hz": [1e6, 7.1e6, 30e6],
    "rejection_db": [24.51234, None, 31.0],
    "floor_db": [-0.125, 60.0, 61.5],
}


def test_lists_become_a_block_and_lists_again(go_to):
    model = go_to(BEFORE)
    contributor = model("measurements", "Contributor").objects.create(key="contributor1")
    design = model("measurements", "Design").objects.create(
        key="testdesign22", recipe={}, recipe_sha256="0" * 64, title="t", core_count=1, turns=9
    )
    device = model("measurements", "Device").objects.create(
        key="testdevice22", contributor=contributor, design=design, tag="A"
    )
    for number, traces in enumerate((TRACES, {})):
        test = model("measurements", "Test").objects.create(
            key=f"test{number}",
            device=device,
            kind="common_mode",
            settings={},
            measured_on="2026-03-01",
            content_sha256=str(number),
        )
        model("measurements", "Result").objects.create(
            test=test, engine_version="1", figures={}, traces=traces
        )

    swept, typed = go_to(AFTER)("measurements", "Result").objects.order_by("pk")
    found = result_values.format_traces(result_values.unpack_traces(swept.trace_names, bytes(swept.traces)))
    assert found == TRACES
    assert (typed.trace_names, bytes(typed.traces)) == ([], b"")

    back = go_to(BEFORE)("measurements", "Result").objects.order_by("pk").values_list("traces", flat=True)
    assert list(back) == [TRACES, {}]


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason="SQLite compresses nothing")
def test_large_columns_wait_for_no_slow_compression():
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT attname, attstorage, attcompression FROM pg_attribute WHERE "
            "attrelid IN ('measurements_sweepfile'::regclass, 'measurements_result'::regclass) "
            "AND attname IN ('raw', 'freq_hz', 's', 'traces', 'evidence_curve')"
        )
        found = cursor.fetchall()
    # PostgreSQL's manual, pg_attribute: x may be compressed (l: by lz4), e never is
    assert len(found) == 5 and all((kind, how) in {("x", "l"), ("e", "")} for _, kind, how in found)
