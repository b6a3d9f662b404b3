"""A motivated reader keeps every release: toggling, and what the public's pages grow by."""

from __future__ import annotations

import itertools
import json
import re
from typing import Any

import pytest
from django.test import Client

from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.models import PublishedVote
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.releases import learning, releases
from measurements.services.tests import tests as tests_services
from tests import factories
from tests.disclosure_end_to_end.groups import group_of

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture(autouse=True)
def _no_limit(settings) -> None:
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000


def test_withdrawing_and_sending_again_twice_gives_nobody_away():
    """The owner toggles: no two published sets differ by the owner alone."""
    key = group_of([2000, 2100, 2200, 2300, 2400])
    owner = factories.member("toggling")
    device = factories.device(owner, key, tag="toggled")
    sweep = factories.choke_s2p(3300, seed=99, points=101)
    kept = []
    test = factories.record(owner, device, sweep)
    for step in range(9):
        releases.make_release()
        kept.append(_figures(key))
        if step % 2:
            test = factories.record(owner, device, sweep)
        else:
            tests_services.withdraw_test(by=owner, test=test)
        if step == 5:  # three others join, so that something may change again
            for index, peak_ohm in enumerate((2600, 2700, 2800)):
                by = factories.member(f"newcomer-{index}")
                made = factories.device(by, key, tag=f"n-{index}")
                factories.record(by, made, factories.choke_s2p(peak_ohm, seed=810 + index, points=101))
    published = [state for state in kept if state]
    assert len({frozenset(state) for state in published}) >= 2, "nothing was ever published again"
    for older, newer in itertools.combinations(published, 2):
        assert len(older ^ newer) == 0 or len(older ^ newer) >= DEFAULT_THRESHOLDS.min_joiners


def test_what_the_public_counts_grow_by_tells_of_no_design_under_its_threshold():
    """From 3 to 4 contributors: the public's every page but the release's own line is the same."""
    group_of([2000, 2100, 2200, 2300, 2400], turns=8)
    small = group_of([2000, 2100, 2200], turns=9)
    releases.make_release()
    before = _public_pages(small)
    for name in ("p-0", "p-1"):
        leaver = factories.member(name)
        (test,) = [row.key for row in tests_selectors.list_tests(leaver).results if row.design == small]
        tests_services.withdraw_test(by=leaver, test=test)
    for index in (5, 6, 7):
        by = factories.member(f"p-{index}")
        made = factories.device(by, small, tag=f"more-{index}")
        factories.record(by, made, factories.choke_s2p(2500, seed=740 + index, points=101))
    assert releases.make_release().replaced == 1  # members see another cell; five people moved
    assert _public_pages(small) == before


def _public_pages(design: str) -> dict[str, bytes]:
    """The public's replies about designs, without the line that names the release."""
    learning.learn_models()  # the front page predicts where it has no evidence to show
    client, found = Client(), {}
    for address in (
        "/api/v1/designs/?limit=200",
        "/api/v1/designs/?order=devices",
        "/api/v1/evidence/",
        "/api/v1/evidence/?format=csv",
        f"/api/v1/designs/{design}/",
        f"/api/v1/designs/{design}/evidence/?format=csv",
        f"/api/v1/designs/{design}/curves/",
        f"/api/v1/designs/{design}/chart/?format=svg",
    ):
        found[address] = re.sub(rb'(?m)^\d+,|"release":\d+', b"", _content(client.get(address)))
    newest = json.loads(client.get("/api/v1/releases/").content)["results"][0]["number"]
    # every row names its release; the rest of the table is what may not move
    table = _content(client.get(f"/api/v1/releases/{newest}/files/evidence.csv/"))
    found["file"] = re.sub(rb"(?m)^\d+,", b"", table)
    assert b"5-9" in found["file"]
    for address in ("/", "/?band=30m", "/designs/", f"/designs/{design}/"):
        text = re.sub(rb'(?s)value="[\w-]{64}"|[Rr]elease[ =]\d+[^<]*', b"", client.get(address).content)
        found[address] = text
    predicted = client.get("/api/v1/predict/?band=30m&band=20m&limit=30").content
    assert b'"learned":true' in predicted  # of the larger design, which the public sees
    found["predict"] = re.sub(rb'"release":\d+', b"", predicted)
    return found


def _content(reply: Any) -> bytes:
    return b"".join(reply.streaming_content) if reply.streaming else reply.content


def _figures(design: str) -> frozenset[str]:
    """The tests behind what is published of a design, which no reader sees."""
    votes = PublishedVote.objects.filter(cell__design__key=design, cell__band="", cell__last_release=None)
    return frozenset(votes.values_list("test_key", flat=True))
