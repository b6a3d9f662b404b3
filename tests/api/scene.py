"""A small group with evidence, made through services (`tests.scenes`).

Who is who: `owner` has a device and a test, `stranger` has nothing, `operator` and `steward` have their
roles (the operator a night with an intake, to which none of these devices was brought), `anonymous` has
no token. The design `popular` has six contributors, `rare` has one.
`reader` is the steward with a token for reading only. `suspended` had a token before a steward suspended it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from measurements.disclosure.viewers import Viewer
from measurements.selectors.check_standards import waiting
from measurements.services.accounts import access_tokens, membership
from measurements.services.analysers import analysers
from measurements.services.intakes import intakes
from measurements.services.nights import nights
from measurements.services.releases import releases
from measurements.services.uploads.uploads import Upload
from tests import check_benches, factories
from tests.api import reply_validation

ROLES = ("anonymous", "stranger", "owner", "operator", "steward")
BASE = "/api/v1/"
PLANTED = "zebra-quagga-4711"  # an identifier that only the owner and a steward may ever read


@dataclass
class Scene:
    """Keys of what there is, and a token for each role."""

    popular: str
    rare: str
    device: str
    test: str
    release: int
    night: str
    intake: str
    standard: str
    hold: str
    analyser: str
    viewers: dict[str, Viewer]
    tokens: dict[str, str] = field(default_factory=dict)

    def ask(self, role: str, method: str, path: str, **options: Any) -> Any:
        """One request to an address below /api/v1/ as `role`; the reply is checked against openapi.yaml.

        json: body as JSON. form: multipart fields (bytes become files). headers: further ones.
        """
        return reply_validation.checked(self.ask_unchecked(role, method, path, **options))

    def ask_unchecked(self, role: str, method: str, path: str, **options: Any) -> Any:
        headers = dict(options.pop("headers", {}))
        if role in self.tokens:
            headers["Authorization"] = f"Token {self.tokens[role]}"
        if "json" in options:
            options["data"], options["content_type"] = json.dumps(options.pop("json")), "application/json"
        if "form" in options:
            options["data"] = encode_multipart(BOUNDARY, files_of(options.pop("form")))
            options["content_type"] = MULTIPART_CONTENT
        address = path if path.startswith("/") else BASE + path
        return Client().generic(method, address, headers=headers, **options)


def files_of(form: dict[str, Any]) -> dict[str, Any]:
    """Multipart fields; bytes become files."""
    return {
        name: SimpleUploadedFile(f"{name}.s2p", value) if isinstance(value, bytes) else value
        for name, value in form.items()
    }


def _check_standard(by: Viewer) -> tuple[str, str]:
    """Keys of a check standard and of the tests that wait for it, which no device of the others is among."""
    device, standard = check_benches.mark(by)
    check_benches.establish(by, device, 5)
    check_benches.sweep(by, device, check_benches.open_night(by, date(2026, 3, 9)), 3.0)
    (hold,) = waiting.list_open_holds(by)
    return standard, hold.key


def build() -> Scene:
    """The group, its evidence and its first release."""
    viewers = {
        "stranger": factories.member("Nils"),
        "owner": factories.member("Ada"),
        "operator": factories.member("Olga", "operator"),
        "steward": factories.member("Stella", "steward"),
    }
    popular = factories.evidence(5)
    rare = factories.design(viewers["owner"], turns=7)
    device = factories.device(viewers["owner"], popular, tag=PLANTED)
    test = factories.record(
        viewers["owner"],
        device,
        factories.choke_s2p(3100, seed=77, comment=PLANTED),
        name=f"{PLANTED}.s2p",
        measured_on=date(2026, 3, 15),
    )
    lonely = factories.device(viewers["owner"], rare, tag="C-9")
    factories.record(viewers["owner"], lonely, factories.choke_s2p(800, seed=78))
    made = releases.make_release()
    night = nights.open_night(by=viewers["operator"], held_on=date(2026, 5, 14)).key
    sweep = Upload("unassigned.s2p", factories.choke_s2p(points=41))
    intake = intakes.begin_intake(by=viewers["operator"], night=night, files=[sweep]).key
    analyser = analysers.describe_analyser(by=viewers["owner"], name=f"analyser {PLANTED}", paths=1).key
    standard, hold = _check_standard(viewers["operator"])
    scene = Scene(popular, rare, device, test, made.number, night, intake, standard, hold, analyser, viewers)
    for role, viewer in viewers.items():
        scene.tokens[role] = access_tokens.issue_token(name=viewer.name, days=1, label=role)
    scene.tokens["reader"] = access_tokens.issue_token(
        name="Stella", days=1, label="reader", scope=access_tokens.READ
    )
    former = factories.member("Silas")
    scene.tokens["suspended"] = access_tokens.issue_token(name=former.name, days=1, label="suspended")
    membership.suspend_member(by=viewers["steward"], name=former.name)
    return scene
