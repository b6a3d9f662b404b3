"""A club night in which every input carries a mark: only its own operator and stewards may ever read one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from measurements.disclosure.viewers import Viewer
from measurements.models import Contributor, Device
from measurements.services.intakes import intakes
from measurements.services.nights import guests, nights
from measurements.services.uploads.uploads import Upload
from tests import club, factories

MARKS = {
    "night's title": "quagga-night",
    "instrument": "quagga-analyser",
    "jig": "quagga-jig",
    "calibration": "quagga-calibration",
    "resistors": "quagga-resistors",
    "night's notes": "quagga-evening",
    "guest's name": "quagga-guest",
    "guest's tag": "quagga-guests-tag",
    "guest's file": "quagga-guests-file",
    "guest's comment": "quagga-guests-comment",
    "jig's file": "quagga-jig-file",
    "refused file": "quagga-refused",
    "refused tag": "quagga-refused-tag",
}


@dataclass(frozen=True)
class PlantedNight:
    """Keys of what there is, and every text that only `runner` may be sent, by what it is."""

    runner: Viewer
    night: str
    device: str
    test: str
    intake: str
    secrets: dict[str, str]


def build(runner: Viewer, design: str) -> PlantedNight:
    night = nights.open_night(
        by=runner,
        held_on=date(2026, 2, 21),
        title=MARKS["night's title"],
        instrument=MARKS["instrument"],
        jig=MARKS["jig"],
        calibrated=True,
        calibration=MARKS["calibration"],
        resistors=MARKS["resistors"],
        notes=MARKS["night's notes"],
    ).key
    opened = Upload(MARKS["jig's file"] + ".s2p", club.jig()["jig_open"].data)
    nights.set_night_jig(by=runner, night=night, uploads={"jig_open": opened})
    guest, tag = MARKS["guest's name"], MARKS["guest's tag"]
    file, refused = MARKS["guest's file"] + ".s2p", MARKS["refused file"] + ".s2p"
    sweep = factories.choke_s2p(3010, seed=91, points=51, comment=MARKS["guest's comment"])
    lines = [
        "file,tag,contributor,kind,design",
        f"{file},{tag},{guest},common_mode,{design}",
        f"{refused},{MARKS['refused tag']},{guest},common_mode,",
    ]
    files = [Upload(file, sweep), Upload(refused, sweep)]
    intake = intakes.begin_intake(by=runner, night=night, files=files, manifest="\n".join(lines)).key
    intakes.work_on_intake(intake=intake)
    device = Device.objects.get(tag=tag)
    (person,) = guests_of(night)
    code = guests.issue_claim_code(by=runner, night=night, contributor_key=person)
    test = device.tests.get().key
    keys = {"night": night, "guest's device": device.key, "guest's test": test, "intake": intake}
    contributor = Contributor.objects.get(guest_name=guest).key
    return PlantedNight(
        runner=runner,
        night=night,
        device=device.key,
        test=test,
        intake=intake,
        secrets={**MARKS, **keys, "on the list": person, "guest": contributor, "claim code": code},
    )


def guests_of(night: str) -> list[str]:
    """Keys of the night's list."""
    from measurements.models import NightContributor

    return list(NightContributor.objects.filter(night__key=night).values_list("key", flat=True))
