"""An evening at the bench for page tests: a night with a jig, a guest's and a member's device. Invented."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.disclosure.viewers import Viewer
from measurements.services.devices import attendance
from measurements.services.nights import nights
from tests import club, factories

CHOKE = factories.choke_s2p(seed=31, points=201)


@dataclass(frozen=True)
class Evening:
    """Keys of the night and of what lies on its bench."""

    operator: Viewer
    night: str
    design: str
    guest: str
    guests_device: str
    members_device: str

    @property
    def address(self) -> str:
        return f"/nights/{self.night}/"


def begin(jig: bool = True) -> Evening:
    """A night run by Osric; Gwenna, a guest, brought G-1; the label of Ada's A-1 was scanned."""
    operator = club.operator()
    night = club.night(operator, calibrated=True)
    ada = factories.member("Ada")
    design = factories.design(ada)
    guest = club.guest(operator, night)
    if jig:
        nights.set_night_jig(by=operator, night=night, uploads=club.jig())
    members_device = factories.device(ada, design, tag="A-1")
    attendance.open_device_by_label(by=operator, night=night, label=members_device)
    return Evening(
        operator=operator,
        night=night,
        design=design,
        guest=guest,
        guests_device=club.guests_device(operator, night, guest, design),
        members_device=members_device,
    )
