"""Every example of /data/, taken from the page itself and run as it stands against a live server."""

from __future__ import annotations

import csv
import io
import json
import re
import urllib.request
from dataclasses import dataclass
from html import unescape

import pytest
import skrf

from measurements.models import Device, Test
from tests.clients.conftest import PYTHON, Group, run

pytestmark = pytest.mark.django_db(transaction=True)
_EXAMPLE = re.compile(r'<pre tabindex="0" data-run="(\w+)"><code>(.*?)</code></pre>', re.DOTALL)


@dataclass(frozen=True)
class Example:
    kind: str
    text: str


@pytest.fixture
def examples(group: Group) -> list[Example]:
    with urllib.request.urlopen(f"{group.address}/data/", timeout=30) as page:
        text = page.read().decode()
    found = [Example(kind, unescape(code)) for kind, code in _EXAMPLE.findall(text)]
    # what is not run must at least be no example of the API
    assert text.count("<pre") - len(found) == 1 and "export BENCHNIGHT_TOKEN=" in text
    return found


def test_every_one_works(group: Group, bench, examples):
    said = {}
    for example in examples:
        assert group.address in example.text or "BENCHNIGHT_TOKEN" in example.text
        said[example.text] = started(example, group, bench)
    check_what_they_left(group, bench, said)


def started(example: Example, group: Group, bench) -> str:
    if example.kind in ("address", "statistics"):
        # R is not here: its address is read, and `test_table_tools.py` reads it by the rules of R
        (address,) = re.findall(r"http[^\s\"]+", example.text)
        with urllib.request.urlopen(address, timeout=30) as reply:
            return reply.read().decode()
    if "import pandas\ntable" in example.text:  # what the page says of the other tool is tried here
        started(Example(example.kind, example.text.replace("pandas", "polars")), group, bench)
    command = {"bash": ["bash", "-euo", "pipefail", "-c"], "python": [PYTHON, "-W", "error", "-c"]}[
        example.kind
    ]
    if "openapi-python-client" in example.text:
        (bench / "quick.yaml").write_text("post_hooks: []\n")  # the formatting of what it makes is not ours
        example = Example(example.kind, f"{example.text} --config quick.yaml")
    done = run([*command, example.text], bench, group.token)
    assert done.returncode == 0, f"{example.text}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def check_what_they_left(group: Group, bench, said: dict[str, str]) -> None:
    def told(part: str) -> str:
        (found,) = [output for text, output in said.items() if part in text]
        return found

    sheet = rows_of(told("read.csv("))
    assert {row["design"] for row in sheet} == {group.design}
    found = json.loads(told("designs/?band=40m"))["results"]
    assert found[0]["id"] == group.design
    assert {"40m", "20m"} <= {row["band"] for row in rows_of((bench / "bands.csv").read_text())}
    assert '"kind":"common_mode"' in told("analyse/") and (bench / "choke.svg").read_text().startswith("<svg")
    evidence = rows_of((bench / "evidence.csv").read_text())
    assert {row["devices"] for row in evidence} == {"6"}
    assert json.loads(told("register-bench-7"))["tag"] == "bench-7"
    assert json.loads(told('device="$DEVICE"'))["device_tag"] == "bench-7"
    assert (bench / "curves.svg").read_text().startswith("<svg")
    heads, _, medians = (line.split()[1:] for line in told("pivot_table").splitlines())
    assert dict(zip(heads, medians, strict=True)) == {
        row["band"]: row["rejection_db.median"] for row in evidence if row["rejection_db.median"]
    }
    folder = told("api/v1/folders/").splitlines()
    assert folder[:2] == ["2 files", "1/2 bench-1.s2p stored"]
    assert folder[2].startswith("2/2 bench-2.s2p You have no device with the tag 'bench-2'.")
    assert skrf.Network(str(bench / "median.s2p")).nports == 2 and "2-Port Network" in told("skrf.Network")
    assert list(bench.glob("*-client")), "no client was made"
    assert Device.objects.filter(tag="bench-7").count() == 1
    assert Test.objects.filter(device__tag__in=["bench-1", "bench-7"]).count() == 2


def rows_of(table: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(table)))


def test_again_they_store_and_fetch_nothing_twice(group: Group, bench, examples):
    again = [
        example
        for example in examples
        if any(part in example.text for part in ("register-bench-7", "api/v1/folders/", "etag-save"))
    ]
    assert len(again) == 3
    first = [started(example, group, bench) for example in again]
    kept = (bench / "evidence.csv").read_bytes()
    second = [started(example, group, bench) for example in again]
    assert first[1] == second[1]
    assert "bench-1.s2p already_there" in second[2]
    assert (bench / "evidence.csv").read_bytes() == kept and len(kept) > 100
