"""A table of any length leaves in pieces: the memory for it does not grow with its rows."""

from __future__ import annotations

import tracemalloc

import pytest
from django.http import StreamingHttpResponse
from django.test import RequestFactory
from rest_framework.request import Request

from api.http import replies, representation

ROWS = 60_000
ROW = {"design": "a2b3c4d5e6f7", "band": "40m", "rejection_worst_db": -27.31, "month": "2026-03"}


def sent(rows: int, coding: str) -> StreamingHttpResponse:
    lines = replies.format_csv_lines((dict(ROW) for _ in range(rows)), tuple(ROW))
    request = Request(RequestFactory().get("/api/v1/evidence/", headers={"Accept-Encoding": coding}))
    stream = replies.stream_lines(lines, "text/csv", "evidence.csv")
    return representation.finish_response(request, stream, is_private=False, may_shrink=True)


def peak_bytes(rows: int, coding: str) -> tuple[int, int]:
    """How many bytes were sent, and the most memory that was held meanwhile."""
    tracemalloc.start()
    try:
        length = sum(len(piece) for piece in sent(rows, coding))
        return length, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("coding", ["identity", "gzip"])
def test_twenty_times_the_rows_need_no_more_memory(coding):
    few, many = peak_bytes(ROWS // 20, coding), peak_bytes(ROWS, coding)
    assert many[0] > 10 * few[0]
    assert many[1] < few[1] + 200_000
    if coding == "identity":
        assert many[0] > 1_900_000 and many[1] < many[0] / 4


def test_pieces_are_worth_a_packet():
    pieces = [len(piece) for piece in sent(5_000, "identity")]
    assert len(pieces) > 2 and min(pieces[:-1]) >= replies.PIECE_BYTES
