"""A database from before results were marked gets its marks, and goes back without harm."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE, AFTER = ("measurements", "0005_packed_evidence"), ("measurements", "0007_flagged_results")
FLAGS = {
    "refused": [{"severity": "refuse", "code": "any", "band": None}],
    "left out": [{"severity": "exclude", "code": "looks_open", "band": None}],
    "contradicts": [{"severity": "note", "code": "pairs_disagree", "band": None}],
    "usual": [{"severity": "note", "code": "floor_unknown", "band": "20m"}],
    "clean": [],
}


def test_stored_results_are_marked_by_their_flags(go_to):
    model = go_to(BEFORE)
    contributor = model("measurements", "Contributor").objects.create(key="contributor1")
    design = model("measurements", "Design").objects.create(
        key="testdesign22", recipe={}, recipe_sha256="0" * 64, title="t", core_count=1, turns=9
    )
    device = model("measurements", "Device").objects.create(
        key="testdevice22", contributor=contributor, design=design, tag="A"
    )
    for name, flags in FLAGS.items():
        test = model("measurements", "Test").objects.create(
            key=name[:12],
            device=device,
            kind="balance",
            settings={},
            measured_on="2026-03-01",
            content_sha256=name,
        )
        model("measurements", "Result").objects.create(
            test=test, engine_version="1", figures={"flags": flags}, traces={}
        )
    rows = go_to(AFTER)("measurements", "Result").objects.filter(flagged=True)
    assert set(rows.values_list("test__content_sha256", flat=True)) == {"refused", "left out", "contradicts"}
    assert go_to(BEFORE)("measurements", "Result").objects.count() == len(FLAGS)
