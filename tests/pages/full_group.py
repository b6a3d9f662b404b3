"""A group with something of everything, for tests that go through every page. Invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.disclosure.viewers import Viewer
from measurements.models import BundleImport
from measurements.selectors.check_standards import waiting
from measurements.services.analysers import analysers
from measurements.services.devices import devices
from measurements.services.intakes import intakes
from measurements.services.nights import nights
from measurements.services.releases import releases
from measurements.services.upkeep import calendar_feeds, fault_searches, inspections, photos
from measurements.services.uploads.uploads import Upload
from tests import check_benches, club, factories
from tests.pages.conftest import signed_in
from tests.photo_samples import picture


@dataclass(frozen=True)
class House:
    """keys: what the addresses of `visits` name. clients: a browser for each reader, `nobody` included.

    viewers: the others by the same names. A draft belongs to the session it was made in, the member's.
    """

    keys: dict[str, str]
    viewers: dict[str, Viewer]
    clients: dict[str, Client]


def furnish() -> House:
    """Six people with a device each of one design, three of another, a night with all that belongs to it."""
    viewers = {
        "member": factories.member("person-0"),
        "operator": club.operator(),
        "steward": factories.member("Cleo", "steward"),
    }
    clients = {"nobody": Client(), **{who: signed_in(viewer) for who, viewer in viewers.items()}}
    signed_in(viewers["member"])  # a second browser, which the list of them shows
    keys = _evidence(viewers["member"]) | _night(viewers["operator"])
    keys["draft"] = _draft(clients["member"], keys["design"])
    keys["bundle"] = _show_bundle(viewers["operator"])
    return House(keys, viewers, clients)


def _show_bundle(operator: Viewer) -> str:
    """A bundle of another server as a worker leaves it: shown, with one row that both sides edited."""
    both = [
        {"field": "place", "here": "Shed", "there": "Hut"},
        {"field": "notes", "here": "", "there": "Wet"},
    ]
    clash = {"key": "a1b2c3d4e5f6", "what": "device", "name": "A-1", "fields": both}
    outcome = {"new": 2, "changed": 0, "unchanged": 4, "conflicts": 1, "lines": ["new: test a1b2c3d4e5f6"]}
    row = BundleImport.objects.create(
        made_by_id=operator.member_id,
        state=BundleImport.State.DONE,
        raw=b"x",
        outcome={**outcome, "clashes": [clash], "unlisted": 0},
    )
    return row.key


def _evidence(member: Viewer) -> dict[str, str]:
    design = factories.evidence(6)
    other = factories.evidence(5, peak_ohm=700, turns=13, first=10)
    device = factories.device(member, design, tag="C-77")
    test = factories.record(member, device, factories.choke_s2p(seed=99))
    weak = factories.record(member, device, factories.choke_s2p(300, seed=98), name="weak.s2p")
    releases.make_release()
    bare = factories.design(member, turns=3, style="bifilar")
    factories.design(member, outer_mm=62.0)  # a typed size near a listed core
    keys = {"design": design, "other": other, "bare": bare, "device": device, "test": test, "weak": weak}
    return keys | _upkeep(member, device)


def _upkeep(member: Viewer, device: str) -> dict[str, str]:
    """An inspection with a fault, a picture, a fault search that goes on and one that has ended."""
    look = inspections.record_inspection(
        by=member,
        device=device,
        inspected_on=date(2026, 4, 2),
        findings={"terminals": {"state": "ok"}, "moisture": {"state": "fault", "note": "wet"}},
        dc_ohm=0.2,
        notes="after the storm",
    ).key
    photo = photos.add_photo(by=member, device=device, data=picture(), caption="the lid").key
    search = fault_searches.begin_fault_search(by=member, device=device, symptom="high_swr", band="40m").key
    ended = fault_searches.begin_fault_search(by=member, device=device, symptom="weather").key
    for step in ("ground_look", "line_parts", "shack_sweep", "line"):
        fault_searches.skip_step(by=member, search=ended, step=step)
    fault_searches.answer_with_inspection(by=member, search=ended, step="inspection", inspection=look)
    calendar_feeds.create_calendar_feed(by=member, label="phone")
    analyser = _measured_analyser(member)
    return {"analyser": analyser, "inspection": look, "photo": photo, "search": search, "ended": ended}


def _measured_analyser(member: Viewer) -> str:
    """A described analyser with a check sweep of its through."""
    made = analysers.describe_analyser(by=member, name="the small one", calibration="own kit", paths=1).key
    through = Upload("through.s2p", factories.choke_s2p(5.0, one_direction=True))
    analysers.check_analyser(by=member, analyser=made, uploads={"check_through": through})
    return made


def _night(operator: Viewer) -> dict[str, str]:
    night = club.night(operator)
    nights.set_night_jig(by=operator, night=night, uploads=club.jig())
    guest = club.guest(operator, night)
    brought = club.guests_device(operator, night, guest)
    tested = club.record(operator, brought, night).key
    own = devices.register_device(by=operator, design=factories.design(operator), tag="O-1").key
    files = [Upload("G-1_cm.s2p", factories.choke_s2p(seed=7)), Upload("unreadable.s2p", b"no sweep")]
    intake = intakes.begin_intake(by=operator, night=night, files=files).key
    intakes.work_on_intake(intake=intake)
    keys = {
        "night": night,
        "guest": guest,
        "brought": brought,
        "tested": tested,
        "intake": intake,
        "own": own,
    }
    return keys | _check_standard(operator)


def _check_standard(operator: Viewer) -> dict[str, str]:
    """A check standard with two benches, out of control on the last night of the first one."""
    device, standard = check_benches.mark(operator)
    check_benches.establish(operator, device, 5)
    far = check_benches.open_night(operator, date(2026, 3, 2), jig="long leads")
    check_benches.sweep(operator, device, far, -1.0)
    checked = check_benches.open_night(operator, date(2026, 3, 9))
    check_benches.sweep(operator, device, checked, 3.0)
    (hold,) = waiting.list_open_holds(operator)
    return {"standard": standard, "checked": checked, "hold": hold.key}


def _draft(client: Client, design: str) -> str:
    """The name of an upload that was checked and not saved."""
    sent = {
        "kind": "common_mode",
        "design": design,
        "device": "new",
        "tag": "undecided",
        "origin": "homebrew",
        "measured_on": "2026-02-17",
        "calibrated": "true",
        "sweep": SimpleUploadedFile("draft.s2p", factories.choke_s2p(seed=5)),
    }
    answer = client.post("/upload/", sent)
    assert answer.status_code == 302, answer.content.decode()[-2000:]
    return answer["Location"].rstrip("/").rpartition("/")[2]
