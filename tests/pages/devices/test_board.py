"""The board and the lists at 5,000 devices: exact counts, each a filter, within the page's budget.

The counts are compared with a count in plain Python over what was stored; budget: 15 queries, 30 kB
compressed, 1,500 nodes (this group's own).
"""

from __future__ import annotations

import gzip
import random
from collections import Counter
from datetime import date, timedelta
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from measurements.models import Contributor, Device, DeviceState, DueMark, Night, StateChange, Test
from measurements.selectors.upkeep import kept_states, service_states
from tests import club, factories, scenes
from tests.pages import markup
from tests.pages.conftest import signed_in

SIZE = 5000
STATES = ("unserviceable", "untested", "overdue", "watch", "serviceable")
PLACES = ("Hill site", "Shed", "", 'Ben\'s "loft" & more', *(f"Mast {number}" for number in range(60)))
MOST_QUERIES, MOST_BYTES, MOST_NODES = 15, 30_000, 1_500


def fill():
    """A steward, twenty members, a guest of a member's name, and devices with states written by hand."""
    steward = factories.member("Stella", "steward")
    people = [factories.member(f"Person {number}") for number in range(20)]
    design = factories.design(people[0])
    for person in people:
        factories.device(person, design, tag="first")
    operator = club.operator()
    guest = club.guest(operator, club.night(operator), "Person 3")
    club.guests_device(operator, Night.objects.get().key, guest, tag="first")
    owners = list(Contributor.objects.order_by("pk"))
    plain = Device.objects.first().design_id
    rng = random.Random(5)
    Device.objects.bulk_create(
        Device(
            contributor=rng.choice(owners),
            design_id=plain,
            tag=f"T-{number}",
            place=rng.choice(PLACES),
            retired_on=date(2026, 1, 1) if rng.random() < 0.02 else None,
        )
        for number in range(SIZE)
    )
    standard = kept_states.get_standard()
    DeviceState.objects.bulk_create(
        DeviceState(
            device=device,
            state=rng.choice(STATES),
            reason="Its curve is what it was.",
            next_step="Nothing now.",
            due_on=rng.choice((None, standard.on, standard.on + timedelta(days=rng.randrange(-90, 400)))),
            judged_on=standard.on,
            standard=standard.digest,
            pool=standard.pool,
        )
        for device in Device.objects.all()
    )
    StateChange.objects.all().delete()
    return steward, people


board_shelves = scenes.share("board_shelves", fill)


@pytest.fixture
def steward(reference_data, board_shelves, db):
    return signed_in(board_shelves[0])


def count(**wanted) -> int:
    """Count in plain Python what is stored."""
    return sum(all(row[name] == value for name, value in wanted.items()) for row in rows())


def rows() -> list[dict]:
    today = service_states.get_today()
    found = []
    for device in Device.objects.select_related("kept_state", "contributor__member").filter(retired_on=None):
        owner, due = device.contributor, device.kept_state.due_on
        name = f"member:{owner.member.name}" if owner.member else f"guest:{owner.guest_name}"
        month = "never" if due is None else "now" if due <= today else f"{due:%Y-%m}"
        found.append({"place": device.place, "state": device.kept_state.state, "owner": name, "month": month})
    return found


def read(client, address: str):
    """Read a page within its budget; facts of the group are in memory after the first request."""
    client.get("/devices/?q=nothing")
    with CaptureQueriesContext(connection) as captured:
        answer = client.get(address)
    assert answer.status_code == 200
    assert len(captured) <= MOST_QUERIES, [each["sql"][:120] for each in captured]
    assert len(gzip.compress(answer.content)) <= MOST_BYTES
    assert len(markup.read(answer.content).elements) <= MOST_NODES
    return answer


@pytest.mark.parametrize("by", ["place", "owner", "month"])
def test_every_count_is_exact_and_leads_to_its_devices(steward, by):
    stored = Counter((row[by], row["state"]) for row in rows())
    seen = {}
    for page in (1, 2):
        board = read(steward, f"/devices/board/?by={by}&page={page}").context
        states = [state for state in STATES if board["board"].counts[state]]
        value = {row.label: row.value for row in board["board"].rows}
        for row in board["rows"]:
            label = "" if row["label"] == "no place" else row["label"]
            for state, (number, href, _) in zip(states, row["cells"], strict=True):
                seen[value[label], state] = (number, href)
    assert {key: number for key, (number, _) in seen.items() if number} == dict(stored)
    assert board["board"].total == len(rows())
    for number, href in random.Random(1).sample(sorted(seen.values()), 6):
        assert read(steward, href).context["total"] == number, href


def test_a_guest_is_not_the_member_of_the_same_name(steward, board_shelves):
    words = urlencode({"owner": "guest:Person 3"})
    assert read(steward, f"/devices/?{words}").context["total"] == count(owner="guest:Person 3") > 0
    page = markup.words(read(signed_in(board_shelves[1][3]), "/devices/").content)
    assert "of Person 3" not in page


def test_the_list_counts_all_and_pages_through_them(steward):
    page = read(steward, "/devices/")
    assert page.context["total"] == len(rows()) and f"Page 1 of {-(-len(rows()) // 50)}" in markup.words(
        page.content
    )
    shown = {each["word"]: each["count"] for each in page.context["states"]}
    assert shown["Overdue"] == count(state="overdue") and shown["To do"] == len(rows()) - count(
        state="serviceable"
    )
    tags = []
    for number in range(1, page.context["pages"] + 1):
        tags += [
            row.tag for row, _ in steward.get(f"/devices/?state=overdue&page={number}").context["devices"]
        ]
    assert len(tags) == count(state="overdue")
    assert read(steward, "/devices/?state=overdue&page=9999").context["devices"] == []


@pytest.mark.parametrize(
    "address", ["/devices/due/", "/devices/due/?place=Hill+site&state=overdue", "/devices/due/?page=3"]
)
def test_the_page_for_marking_keeps_the_budget(steward, address):
    page = read(steward, address)
    assert len(page.context["devices"]) <= 50


def test_all_at_a_place_in_one_action_with_undo(steward):
    total = count(place='Ben\'s "loft" & more')
    address = f"/devices/due/?{urlencode({'place': PLACES[3]})}"
    assert f"Mark all {total} at" in markup.words(steward.get(address).content)
    sent = {"do": "mark_all", "count": str(total), "event": "storm"}
    assert steward.post(address, sent).status_code == 302
    assert DueMark.objects.count() == total == DueMark.objects.filter(device__place=PLACES[3]).count()
    page = steward.get("/devices/?place=Shed")
    assert page.context["total"] == count(place="Shed")
    steward.post(address, {"do": "undo", "batch": DueMark.objects.first().batch})
    assert not DueMark.objects.exists()


def test_what_waits_is_counted_apart_and_judged_in_portions(steward):
    """600 devices changed. A page takes four steps: one compares owners' repeats, three judge 100 each."""
    changed = list(Device.objects.filter(retired_on=None).order_by("pk")[:600])
    day = timezone.localdate()
    Test.objects.bulk_create(
        Test(device=device, kind="dc", settings={}, measured_on=day, content_sha256=str(device.pk))
        for device in changed
    )
    board = steward.get("/devices/board/").context["board"]
    assert board.waiting == 300 and board.total == len(rows())
    words = markup.words(steward.get("/devices/").content)
    assert "Not judged yet" not in words  # the second page judged the others
    judged = DeviceState.objects.filter(device__in=changed)
    assert {row.state for row in judged} == {"untested"}  # by its rules: they have no test that says anything
