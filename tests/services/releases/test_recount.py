"""The figures of all kinds in the CSV follow from the sweeps, by a script that knows none of our code."""

from __future__ import annotations

import gzip
import random

import pytest

from measurements.models import ReleaseFilePart, SweepFile, Test
from measurements.services.releases import releases
from tests import factories, ratio_benches, scenes
from tests.services.releases import recount

pytestmark = pytest.mark.usefixtures("reference_data")
PEOPLE = 10
READING = {"rejection_db": 0.02, "loss_db": 0.03, "swr": 0.01}  # readings are smoothed over neighbours


def build() -> dict[str, str]:
    """Ten people who tested a choke, and ten who tested an unun; the CSV for members."""
    made = {"choke": factories.evidence(PEOPLE, peak_ohm=1400), "unun": ratio_benches.evidence(PEOPLE)}
    releases.make_release(rng=random.Random(3))
    return made


recounted_group = scenes.share("recounted_group", build)


@pytest.fixture
def group(recounted_group, db):
    return recounted_group


def read_evidence_csv(circle: str) -> list[dict[str, str]]:
    parts = ReleaseFilePart.objects.filter(file__name="evidence.csv", file__circle=circle).order_by("number")
    return recount.read_csv(b"".join(gzip.decompress(bytes(part.content)) for part in parts))


def list_files(design: str, kind: str) -> list[dict[str, bytes]]:
    """The bytes of each test's files by role."""
    found = []
    for test in Test.objects.filter(device__design__key=design, kind=kind):
        files = SweepFile.objects.filter(test=test).values_list("role", "raw")
        found.append({role: bytes(raw) for role, raw in files})
    return found


def find_worst(kind: str, files: dict[str, bytes], band: str) -> float:
    if kind == "insertion_loss":
        return recount.find_worst_loss(files, band, load_ohm=2451.0, nominal_ohm=2450.0)
    find = recount.find_worst_swr if kind == "load_match" else recount.find_worst_rejection
    return find(files, band)


@pytest.mark.parametrize("kind", recount.METRICS)
def test_every_figure_of_the_csv_is_counted_again(group, kind):
    design, metric = group["choke" if kind == "common_mode" else "unun"], recount.METRICS[kind]
    rows = [row for row in read_evidence_csv("members") if row["design"] == design and row["kind"] == kind]
    # at 10 m the stray of 2,450 ohm makes U of a match too large for a vote
    assert {row["band"] for row in rows} >= {"80m", "40m", "20m"}
    reading, step = READING[metric], recount.STEPS[metric][1]
    for row in rows:
        if row["band"] not in recount.BANDS_MHZ:
            continue
        worst = [find_worst(kind, files, row["band"]) for files in list_files(design, kind)]
        counted = recount.count_evidence(metric, worst)
        for name in recount.PERCENTS:
            assert float(row[f"{metric}.{name}"]) == pytest.approx(counted[name], abs=step / 2 + reading)
        bound = row[f"{metric}.tolerance_{'low' if kind == 'common_mode' else 'high'}"]
        assert float(bound) == pytest.approx(counted["bound"], abs=step / 2 + 2 * reading)
        assert (row["devices"], row["contributors"]) == (str(PEOPLE), str(PEOPLE))
        near = sum(abs(value - recount.LIMITS[metric]) < reading for value in worst)
        assert abs(int(row["passing"]) - counted["passing"]) <= near
        if not near:
            for name in ("share", "share_low", "share_high"):
                assert float(row[name]) == pytest.approx(counted[name], abs=0.0051)
            assert float(row["chance"]) == pytest.approx(min(max(counted["chance"], 0.01), 0.99), abs=0.03)
        expected = (
            "typically_meets"
            if float(row["chance"]) >= 0.81
            else ("typically_falls_short" if float(row["chance"]) <= 0.19 else "mixed")
        )
        assert row["verdict"] == expected


def test_a_row_is_of_one_kind_and_the_other_metrics_are_empty(group):
    for circle in ("members", "public"):
        for row in read_evidence_csv(circle):
            metric = recount.METRICS[row["kind"]]
            assert row[f"{metric}.median"]
            assert bool(row["benchmark_db"]) == (metric == "rejection_db") != bool(row["limit"])
            others = [name for name in row if name.split(".")[0] in set(recount.METRICS.values()) - {metric}]
            assert others and not any(row[name] for name in others)


def test_the_public_has_the_same_kinds_with_counts_as_ranges(group):
    kinds = {(row["kind"], row["devices"]) for row in read_evidence_csv("public")}
    assert kinds == {(kind, "10-19") for kind in recount.METRICS}
