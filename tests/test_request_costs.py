"""What the dearest request costs that a stranger may send to each address, counted in work: deploy/COSTS.md.

Work is statements to the database, memory that Python takes at its peak, and bytes sent; not time, which
differs from machine to machine (OWASP API Security Top 10 2023, API4: limit memory, records and calls). The
table's milliseconds were measured once and are not tested. `BENCHNIGHT_SHOW_COSTS=1 pytest -s` prints all.
"""

from __future__ import annotations

import base64
import gzip
import json
import os
import re
import time
import tracemalloc
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.cache import caches
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from deploy.virtualenv import ROOT
from measurements.charts import rendering
from measurements.models import UseCount
from measurements.selectors.reference import reference
from tests import factories
from tests.api import test_permissions as of_api
from tests.pages import test_permissions as of_pages
from tests.pages.full_group import House, furnish

TABLE = (ROOT / "deploy" / "COSTS.md").read_text(encoding="utf-8")
ROW = re.compile(
    r"^\| `(?P<name>[\w:]+)` \| (?P<dearest>[^|]+) \| (?P<queries>\d+) \| (?P<mb>[\d.]+) \| (?P<kb>[\d,]+) "
    r"\| (?P<ms>[\d,]+) \| (?P<limit>[a-z ]+) \|$",
    re.MULTILINE,
)
ROWS = {found["name"]: found for found in ROW.finditer(TABLE)}
# what is counted where -> the word of the table
LIMITS = {"api:anonymous": "anonymous", "computing": "computing", "drawing": "drawing", "sign_in": "sign in"}
REFERENCE = ("bands", "benchmarks", "mixes", "cores", "conductors")
ONLY_REFUSED = "nothing but a refusal"


def strangers_addresses() -> set[str]:
    """Every address that answers nobody with something else than the way to sign in."""
    api = {
        f"api:{name}"
        for name, methods in of_api.TABLE.items()
        if name != of_api.NOWHERE
        and any(answers["anonymous"] not in (401, 403) for answers in methods.values())
    }
    posted = {"look", "sign_out"}
    pages = {
        f"pages:{name}"
        for name, (_, answers) in of_pages.TABLE.items()
        if answers[0] not in (of_pages.SIGN_IN, 405) or name in posted
    }
    return api | pages


@dataclass
class Asked:
    """A request: GET with words, or POST of a form or of JSON."""

    path: str
    words: list[tuple[str, Any]] = field(default_factory=list)
    form: dict[str, Any] | None = None
    json: Any = None

    def send(self) -> tuple[int, int]:
        """Status and bytes sent, whole."""
        address = f"{self.path}?{urlencode(self.words)}" if self.words else self.path
        client = Client()
        if self.json is not None:
            answer = client.post(address, self.json, content_type="application/json")
        elif self.form is not None:
            form = {
                name: SimpleUploadedFile("big.s2p", value) if isinstance(value, bytes) else value
                for name, value in self.form.items()
            }
            answer = client.post(address, form)
        else:
            answer = client.get(address)
        content = answer.getvalue() if answer.streaming else answer.content
        return answer.status_code, len(content)


def dearest(house: House) -> dict[str, Asked]:
    """The dearest request that each address takes, as far as a limit of it lets one grow."""
    key, release = house.keys["design"], "1"
    bands = [("band", row.band) for row in reference.list_bands()]
    bench = [("benchmark_db", "23.5")]
    sweep = factories.choke_s2p(points=50_000)
    assert 4e6 < len(sweep) < 8 * 1024 * 1024
    ratio = [("band", each) for each in ("80m", "40m", "20m", "10m")] + [
        ("ratio", "4:1"),
        ("style", "bifilar"),
    ]
    ratio += [("stacked", "4")]
    winding = [("part", "2631803802"), ("stacked", "2"), ("turns", "12"), *bands, *bench]
    compared = [("design", house.keys[name]) for name in ("design", "other", "bare")]
    core = {"shape": "toroid", "outer_mm": 61, "inner_mm": 35.55, "height_mm": 12.7, "mix": "31"}
    recipe = {"purpose": "choke", "ratio": "1:1", "cores": [core], "winding": {"turns": 11, "style": "coax"}}
    names = [name for _, name in bands]
    computed = {"kind": "common_mode", "calibrated": "true", "sweep": sweep}
    many_cores = {**recipe, "cores": [core] * 24}
    v1 = "/api/v1/"
    return {
        "api:index": Asked(v1),
        "api:schema": Asked(f"{v1}schema/"),
        "api:docs": Asked(f"{v1}docs/"),
        **{f"api:{name}": Asked(f"{v1}{name}/") for name in REFERENCE},
        "api:analyse": Asked(f"{v1}analyse/", [("format", "png")], computed),
        "api:predict": Asked(f"{v1}predict/", [*bands, *bench, ("limit", "30"), ("stacked", "2")]),
        "api:predict_ratio": Asked(f"{v1}predict/ratio/", [*ratio, ("best_capacitor", "true")]),
        "api:identify": Asked(f"{v1}identify/", form={"turns": "11", "sweep": sweep}),
        "api:designs": Asked(f"{v1}designs/", [("limit", "200"), *bands, *bench]),
        "api:design": Asked(f"{v1}designs/{key}/", [*bands, *bench]),
        "api:design_evidence": Asked(f"{v1}designs/{key}/evidence/", [*bands, *bench]),
        "api:design_curves": Asked(f"{v1}designs/{key}/curves/"),
        "api:design_chart": Asked(f"{v1}designs/{key}/chart/", [("format", "png"), *bench]),
        "api:evidence": Asked(f"{v1}evidence/", [("format", "csv")]),
        "api:pool": Asked(f"{v1}pool/"),
        "api:pooled_evidence": Asked(f"{v1}pool/evidence/", [("limit", "200")]),
        "api:pool_groups": Asked(f"{v1}pool/groups/", form={"message": seal_as_a_stranger(b"join", 0)}),
        "api:pool_sendings": Asked(
            f"{v1}pool/sendings/", form={"message": seal_as_a_stranger(b"sending", 6_000_000)}
        ),
        "api:pool_latest": Asked(f"{v1}pool/releases/latest.json/"),
        "api:pool_file": Asked(f"{v1}pool/releases/1/evidence.csv/"),
        "api:releases": Asked(f"{v1}releases/", [("limit", "200")]),
        "api:release": Asked(f"{v1}releases/{release}/"),
        "api:latest_release": Asked(f"{v1}releases/latest/"),
        "api:latest_release_file": Asked(f"{v1}releases/latest/files/evidence.csv/"),
        "api:release_feed": Asked(f"{v1}releases/feed/"),
        "api:release_file": Asked(f"{v1}releases/{release}/files/evidence.csv/"),
        "pages:home": Asked("/", [*bands, *bench]),
        "pages:designs": Asked("/designs/", [*bands, *bench]),
        "pages:design": Asked(f"/designs/{key}/", [*bands, *bench]),
        "pages:design_chart": Asked(f"/designs/{key}/chart.svg", bench),
        "pages:heat_chart": Asked("/designs/heat.svg", [*bands, *bench]),
        "pages:compare": Asked("/designs/compare/", [*compared, *bands, *bench]),
        "pages:compare_chart": Asked("/designs/compare/chart.svg", [*compared, *bench]),
        "pages:check": Asked("/check/", form={"kind": "common_mode", "build": "12t", "sweep": sweep}),
        "pages:check_kept": Asked(f"/check/kept/{'x' * 43}/"),
        "pages:search": Asked("/search/", [("q", "12t coax FT240-31 mix 31 " + "word " * 19)]),
        "pages:lookup": Asked("/lookup/", [("q", "19 turns bifilar on 2 stacked FT240-43")]),
        "pages:predict": Asked("/predict/", [*bands, *bench]),
        "pages:predict_ratio": Asked("/predict/ratio/", [*ratio, ("capacitor", "best")]),
        "pages:predict_core": Asked("/predict/core/", form={"turns": "11", "sweep": sweep}),
        "pages:predict_winding": Asked("/predict/winding/", winding),
        "pages:prediction_chart": Asked("/predict/winding/chart.svg", winding),
        "pages:upload": Asked("/upload/", form={"kind": "common_mode", "sweep": sweep}),
        "pages:news_feed": Asked(f"/calendar/{'x' * 43}.atom"),
        "pages:calendar_feed": Asked(f"/calendar/{'x' * 43}.ics"),
        "pages:sign_in": Asked("/sign-in/", form={"name": "nobody", "password": "x" * 256}),
        "pages:after": Asked("/after/", form={"code": "x" * 32}),
        "pages:sign_in_link": Asked(f"/sign-in/{'x' * 32}/", form={}),
        "pages:sign_out": Asked("/sign-out/", form={}),
        "pages:guide": Asked("/guide/"),
        "pages:guide_topic": Asked("/guide/insertion_loss/"),
        "pages:guide_drawing": Asked("/guide/drawings/common_mode.sweep.svg"),
        "pages:data": Asked("/data/"),
        "pages:look": Asked("/look/", form={"look": "dark"}),
        "api:predict post": Asked(f"{v1}predict/", json={"recipe": many_cores, "bands": names}),
    }  # fmt: skip


def seal_as_a_stranger(purpose: bytes, filling: int) -> bytes:
    """An envelope to a pool under a key of nobody, as large as is taken: it is not unpacked."""
    key = Ed25519PrivateKey.generate()
    packed = gzip.compress(b'{"code": "x", "name": "x"}') + os.urandom(filling)
    signature = key.sign(b"benchnight pool " + purpose + b" 1\n" + packed)
    sealed = {"key": key.public_key().public_bytes_raw().hex(), "signature": signature.hex()}
    return json.dumps({**sealed, "content": base64.b64encode(packed).decode()}).encode()


@dataclass(frozen=True)
class Cost:
    status: int
    queries: int
    mb: float
    kb: float
    ms: float
    limits: frozenset[str]


def measure(asked: Asked) -> Cost:
    """Of a request whose answer is kept nowhere; libraries are loaded before."""
    _forget()
    asked.send()
    UseCount.objects.all().delete()
    _forget()
    begun_s = time.process_time()
    asked.send()
    ms = (time.process_time() - begun_s) * 1000
    UseCount.objects.all().delete()
    _forget()
    tracemalloc.start()
    try:
        with CaptureQueriesContext(connection) as captured:
            status, size = asked.send()
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    keys = UseCount.objects.values_list("key", flat=True)
    limits = frozenset(
        word for prefix, word in LIMITS.items() if any(key.startswith(f"{prefix}:") for key in keys)
    )
    return Cost(status, len(captured), peak / 1e6, size / 1e3, ms, limits)


def _forget() -> None:
    for each in caches.all():
        each.clear()
    rendering._render_cached_svg.cache_clear()


@pytest.fixture
def house(reference_data: None, settings) -> Iterator[House]:
    yield furnish()


def test_the_table_has_every_address_that_a_stranger_can_call():
    assert {name.removesuffix(":post") for name in ROWS} == strangers_addresses()
    assert len(ROWS) == len([line for line in TABLE.splitlines() if line.startswith("| `")])


def test_no_request_costs_more_than_the_table_says(house: House):
    """One test for all: the group is made once."""
    beyond = {}
    for name, asked in dearest(house).items():
        cost, row = measure(asked), ROWS.get(name.replace(" ", ":"))
        if os.environ.get("BENCHNIGHT_SHOW_COSTS"):
            figures = f"q{cost.queries} {cost.mb:.1f} MB {cost.kb:.0f} kB {cost.ms:.0f} ms"
            print(f"{name:24} {cost.status} {figures} {sorted(cost.limits)}")
            continue
        said = (int(row["queries"]), float(row["mb"]), float(row["kb"].replace(",", "")))
        if cost.queries > said[0] or cost.mb > said[1] or cost.kb > said[2]:
            beyond[name] = (cost, said)
        assert cost.limits == ({row["limit"].strip()} - {"proxy"}), name
        if row["dearest"].strip() == ONLY_REFUSED:
            assert cost.status in (403, 404), name
    assert beyond == {}, beyond


def test_what_only_the_proxy_limits_is_cheap():
    assert {row["name"] for row in ROWS.values() if row["limit"] == "proxy" and int(row["ms"]) > 10} == set()


@pytest.mark.parametrize("name", ["queries", "mb", "kb", "ms"])
def test_no_row_is_out_of_proportion(name):
    """A limit a minute times its cost leaves most of a processor and of a server of 1 GB for others."""
    most = {"queries": 66, "mb": 100, "kb": 700, "ms": 3000}
    assert {
        row["name"]: row[name] for row in ROWS.values() if float(row[name].replace(",", "")) > most[name]
    } == {}
