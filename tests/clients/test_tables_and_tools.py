"""The tools that people have: a data-frame library reads every table, a command-line client asks again
only for what changed, and a large answer comes in pieces.
"""

from __future__ import annotations

import gzip
import http.client
import json
from urllib.parse import urlsplit

import numpy as np
import pandas as pd
import pytest

from tests.clients.conftest import Group, run

pytestmark = pytest.mark.django_db(transaction=True)


class TestDataFrames:
    def test_the_three_forms_of_the_evidence_are_one_table(self, group: Group):
        mine = {"Authorization": f"Token {group.token}"}
        address = f"{group.api}evidence/?format="
        table = pd.read_csv(f"{address}csv", storage_options=mine)
        lines = pd.read_json(f"{address}ndjson", lines=True, storage_options=mine)
        assert len(table) == 10 and table["band"].nunique() == 10  # a row per design and band, of one design
        flat = pd.json_normalize(lines.to_dict("records")).fillna(np.nan)  # nested names join with a dot
        # the metrics of other kinds are one null in a line and empty cells in the table
        others = [name for name in table.columns if name.startswith(("loss_db.", "swr."))]
        assert table[others].isna().all(axis=None) and set(table.columns) - set(others) <= set(flat.columns)
        pd.testing.assert_frame_equal(table, flat.reindex(columns=table.columns), check_dtype=False)
        assert pd.api.types.is_float_dtype(table["rejection_db.median"])

    def test_a_file_of_a_release_is_the_same_table(self, group: Group):
        mine = {"Authorization": f"Token {group.token}"}
        name = f"design-{group.design}.csv"
        whole, own = (
            pd.read_csv(f"{group.api}releases/1/files/{file}/", storage_options=mine)
            for file in ("evidence.csv", name)
        )
        pd.testing.assert_frame_equal(whole[whole["design"] == group.design].reset_index(drop=True), own)

    def test_public_lists(self, group: Group):
        for name in ("bands", "mixes", "cores", "conductors", "benchmarks", "designs", "releases"):
            assert len(pd.read_csv(f"{group.api}{name}/?format=csv")), name


class TestOnTheCommandLine:
    def test_gzip_tag_and_304(self, group: Group, tmp_path):
        def ask(*options: str) -> str:
            command = [
                "curl",
                "-sS",
                "--compressed",
                "-o",
                "table.csv",
                "-w",
                "%{http_code} %{size_download}",
            ]
            done = run([*command, *options, f"{group.api}bands/?format=csv"], tmp_path)
            assert done.returncode == 0, done.stderr
            return done.stdout

        first = ask("--etag-save", "tag")
        assert first.startswith("200 ")
        size = (tmp_path / "table.csv").stat().st_size
        assert int(first.split()[1]) < size  # fewer bytes came than were written
        assert (tmp_path / "tag").read_text().strip().endswith(':gzip"')
        assert ask("--etag-compare", "tag").startswith("304 0")

    def test_following_links_from_page_to_page(self, group: Group, tmp_path):
        address, found = f"{group.api}evidence/?limit=7", []
        while address:
            done = run(
                ["curl", "-sS", "-D", "head", "-H", f"Authorization: Token {group.token}", address], tmp_path
            )
            found += json.loads(done.stdout)["results"]
            links = [
                line for line in (tmp_path / "head").read_text().splitlines() if line.startswith("Link:")
            ]
            following = [part for part in links[0].split(", ") if 'rel="next"' in part]
            address = following[0].split("<")[1].split(">")[0] if following else ""
        assert len({(row["design"], row["band"]) for row in found}) == len(found) == 10


def test_a_stream_comes_in_pieces_and_packed(group: Group):
    """No length is known before its end; what is packed is the same table."""
    place = urlsplit(group.address)
    bodies = []
    for accepted in ("identity", "gzip"):
        connection = http.client.HTTPConnection(place.hostname, place.port, timeout=30)
        headers = {"Authorization": f"Token {group.token}", "Accept-Encoding": accepted}
        connection.request("GET", "/api/v1/evidence/?format=ndjson", headers=headers)
        reply = connection.getresponse()
        assert reply.getheader("Content-Length") is None and reply.getheader("ETag")
        bodies.append(reply.read())
        connection.close()
    assert gzip.decompress(bodies[1]) == bodies[0] and len(bodies[1]) < len(bodies[0]) / 2
