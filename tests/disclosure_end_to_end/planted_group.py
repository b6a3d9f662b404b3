"""A group in which one member's every input carries a mark of its own, so that a leak says which field it is.

Invented people. `owner` has planted the marks; `member` and `operator` are others with accounts; everybody
else is anonymous. The design has six contributors, so that both circles see evidence of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.disclosure.viewers import Viewer
from measurements.models import Contributor, PublishedVote, SweepFile
from measurements.services.accounts import access_tokens
from measurements.services.analysers import analysers
from measurements.services.devices import devices
from measurements.services.kit import loans
from measurements.services.releases import learning, releases
from measurements.services.tests import review
from measurements.services.upkeep import calendar_feeds, fault_searches, inspections, photos
from tests import factories
from tests.disclosure_end_to_end import planted_night
from tests.disclosure_end_to_end.planted_night import PlantedNight
from tests.pages.conftest import signed_in
from tests.photo_samples import picture

# what is typed or sent: field -> mark. Letters, digits and dashes only: no door has a reason to rewrite them.
MARKS = {
    "account name": "quagga-account",
    "tag": "quagga-tag",
    "notes": "quagga-notes",
    "file name": "quagga-file",
    "comment line": "quagga-comment",
    "draft file name": "quagga-draft",
    "draft tag": "quagga-undecided",
    "token label": "quagga-label",
    "place": "quagga-place",
    "kind": "quagga-kind",
    "ratio": "quagga-ratio",
    "make": "quagga-make",
    "borrower": "quagga-borrower",
    "inspection": "quagga-inspection",
    "item of an inspection": "quagga-item",
    "caption": "quagga-caption",
    "reason of a steward": "quagga-reason",
    "analyser name": "quagga-described",
}
MEASURED_ON, BUILT_ON = date(2026, 2, 17), date(2019, 7, 23)
START_HZ, STOP_HZ = 1_012_345.7, 29_876_543.3  # a grid that nobody else has
POINTS = 51


def days(day: date) -> tuple[str, ...]:
    """A day in the forms in which a page or a reply could write it."""
    return (
        day.isoformat(),
        f"{day.day} {day:%B %Y}",
        f"{day:%B} {day.day}, {day.year}",
        f"{day:%d.%m.%Y}",
        f"{day:%d/%m/%Y}",
        f"{day:%Y%m%d}",
    )


@dataclass(frozen=True)
class Planted:
    """Who is who, and every text that nobody but the owner may be sent, by what it is."""

    owner: Viewer
    member: Viewer
    operator: Viewer
    runner: Viewer
    design: str
    device: str
    test: str
    draft: str
    inspection: str
    photo: str
    search: str
    analyser: str
    feed: str
    night: PlantedNight
    release: int
    secrets: dict[str, str]
    tokens: dict[str, str]
    owners_browser: Client  # a draft belongs to the session that it was made in

    def browser(self, who: str) -> Client:
        if who == "owner":
            return self.owners_browser
        return Client() if who == "anonymous" else signed_in(getattr(self, who))


def sweep(seed: int) -> bytes:
    """A choke on the grid that gives its owner away."""
    plain = factories.choke_s2p(3050, seed=seed, points=POINTS, comment=MARKS["comment line"]).decode()
    freq_hz = iter(np.linspace(START_HZ, STOP_HZ, POINTS))
    lines = [
        line if line[0] in "!#" else f"{next(freq_hz):.1f} {line.split(' ', 1)[1]}"
        for line in plain.splitlines()
    ]
    return ("\n".join(lines) + "\n").encode()


def build() -> Planted:
    design = factories.evidence(5)
    owner = factories.member(MARKS["account name"])
    device = devices.register_device(
        by=owner, design=design, tag=MARKS["tag"], notes=MARKS["notes"], built_on=BUILT_ON
    ).key
    written = {name: MARKS[name] for name in ("place", "kind", "ratio", "make")}
    devices.update_device(by=owner, device=device, version=1, **written)
    loans.lend_device(by=owner, device=device, borrower=MARKS["borrower"])
    test = factories.record(
        owner, device, sweep(seed=4), measured_on=MEASURED_ON, name=f"{MARKS['file name']}.s2p"
    )
    other = factories.record(owner, device, sweep(seed=7), measured_on=date(2026, 2, 16))
    review.exclude_test(
        by=factories.member("Stella", "steward"), test=other, reason=MARKS["reason of a steward"]
    )
    look = inspections.record_inspection(
        by=owner,
        device=device,
        inspected_on=date(2026, 2, 18),
        findings={"terminals": {"state": "watch", "note": MARKS["item of an inspection"]}},
        notes=MARKS["inspection"],
    )
    photo = photos.add_photo(by=owner, device=device, data=picture(), caption=MARKS["caption"])
    search = fault_searches.begin_fault_search(by=owner, device=device, symptom="high_swr", band="40m")
    analyser = analysers.describe_analyser(by=owner, name=MARKS["analyser name"])
    runner = factories.member("Osric", "operator")
    night = planted_night.build(runner, design)
    made = releases.make_release()
    learning.learn_models()
    people = {
        "owner": owner,
        "member": factories.member("Nils"),
        "operator": factories.member("Olga", "operator"),
        "runner": runner,
    }
    labels = {"owner": MARKS["token label"], "member": "bench", "operator": "club", "runner": "night"}
    issued = {
        who: access_tokens.issue_token(name=viewer.name, days=1, label=labels[who])
        for who, viewer in people.items()
    }
    browser = signed_in(owner)
    return Planted(
        **people,
        owners_browser=browser,
        design=design,
        device=device,
        test=test,
        draft=_draft(browser, design),
        inspection=look.key,
        photo=photo.key,
        search=search.key,
        analyser=analyser.key,
        feed=calendar_feeds.create_calendar_feed(by=owner),
        night=night,
        release=made.number,
        secrets=_secrets(test, device) | {"analyser": analyser.key},
        tokens=issued,
    )


def _draft(browser: Client, design: str) -> str:
    """The address of an upload that was checked and not saved."""
    answer = browser.post(
        "/upload/",
        {
            "kind": "common_mode",
            "design": design,
            "device": "new",
            "tag": MARKS["draft tag"],
            "origin": "homebrew",
            "measured_on": MEASURED_ON.isoformat(),
            "calibrated": "true",
            "sweep": SimpleUploadedFile(f"{MARKS['draft file name']}.s2p", sweep(seed=5)),
        },
    )
    assert answer.status_code == 302, answer.content.decode()[-2000:]
    return answer["Location"]


def _secrets(test: str, device: str) -> dict[str, str]:
    """Every text to look for, by what it is: marks, days, the grid, keys, the file's hash."""
    found = dict(MARKS)
    found |= {f"measured on ({form})": form for form in days(MEASURED_ON)}
    found |= {f"built on ({form})": form for form in days(BUILT_ON)}
    found |= {"first frequency": "1012345.7", "last frequency": "29876543.3", "in MHz": "1.0123457"}
    found |= {"test": test, "device": device}
    vote = PublishedVote.objects.get(test_key=test)
    found["contributor"] = vote.contributor_key
    assert Contributor.objects.get(key=vote.contributor_key).member.name == MARKS["account name"]
    found["hash of the file"] = SweepFile.objects.get(test__key=test).raw_sha256
    return found
