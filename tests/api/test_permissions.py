"""Who may do what: roles x every address x every method.

The table is total: an address that is in `api.urls` and not here fails, and every method that a row does
not list must answer 405 to everybody.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from api import urls
from measurements.services.nights import guests, persons
from tests import factories, photo_samples
from tests.api.scene import ROLES, Scene

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
NOWHERE = "(whatever is at no address)"


def everybody(status: int) -> dict[str, int]:
    """The same answer to all."""
    return dict.fromkeys(ROLES, status)


def signed_in(status: int) -> dict[str, int]:
    """All but the anonymous."""
    return everybody(status) | {"anonymous": 401}


def owner_only(status: int) -> dict[str, int]:
    """Its owner and stewards; to others it is not there. An operator has no night with it."""
    return {"anonymous": 401, "stranger": 404, "owner": status, "operator": 404, "steward": status}


def operators_only(status: int) -> dict[str, int]:
    """Operators and stewards."""
    return {"anonymous": 401, "stranger": 403, "owner": 403, "operator": status, "steward": status}


def run_only(status: int) -> dict[str, int]:
    """The operators of the night and stewards; who is no operator is told just that, of every night."""
    return operators_only(status)


def describer_only(status: int) -> dict[str, int]:
    """Whoever described an analyser; to everybody else, a steward too, it is not there."""
    return owner_only(status) | {"steward": 404}


def stewards_only(status: int) -> dict[str, int]:
    """Stewards alone."""
    return operators_only(status) | {"operator": 403}


LED = {"GET": everybody(302), "HEAD": everybody(302)}
READ = {"GET": everybody(200), "HEAD": everybody(200)}
SIGNED_IN = {"GET": signed_in(200), "HEAD": signed_in(200)}
OPERATORS = {"GET": operators_only(200), "HEAD": operators_only(200)}
RUN = {"GET": run_only(200), "HEAD": run_only(200)}
OWNED = {"GET": owner_only(200), "HEAD": owner_only(200)}

TABLE: dict[str, dict[str, dict[str, int]]] = {
    "index": READ,
    "schema": READ,
    "docs": READ,
    "bands": READ,
    "benchmarks": READ,
    "mixes": READ,
    "cores": READ,
    "conductors": READ,
    "analysers": SIGNED_IN | {"POST": signed_in(201)},
    "analyser": {method: describer_only(200) for method in ("GET", "HEAD", "PATCH")}
    | {"DELETE": describer_only(204)},
    "analyser_checks": {"POST": describer_only(200), "DELETE": describer_only(204)},
    "analyse": {"POST": everybody(200)},
    "predict": READ | {"POST": everybody(200)},
    "predict_ratio": READ,
    "identify": {"POST": everybody(200)},
    "designs": READ | {"POST": signed_in(201)},
    "design": READ,
    "design_evidence": READ,
    "design_curves": READ,
    "design_chart": READ,
    "design_watch": {method: signed_in(204) for method in ("POST", "DELETE")},
    "watched_designs": SIGNED_IN,
    "evidence": READ,
    "pool": READ,
    "pooled_evidence": READ,
    "pool_groups": {"POST": everybody(400)},  # without a message; `test_pool` sends some
    "pool_sendings": {"POST": everybody(400)},
    "pool_latest": READ,
    "pool_file": {method: everybody(404) for method in ("GET", "HEAD")},  # this server keeps no pool
    "releases": READ,
    "release": READ,
    "latest_release": LED,
    "latest_release_file": LED,
    "release_feed": READ,
    "release_file": READ,  # of the public's own; `test_release_files` asks for the members'
    "devices": SIGNED_IN | {"POST": signed_in(201)},
    "device": OWNED | {"PATCH": owner_only(200)},
    "inspections": OWNED | {"POST": owner_only(201)},
    "device_service": OWNED,
    "device_offers": {
        "POST": owner_only(204) | {"steward": 403},
        "DELETE": owner_only(404) | {"steward": 403},
    },
    "device_loans": OWNED | {"POST": owner_only(201)},
    "device_return": {"POST": owner_only(409)},  # it is not lent
    "pictures": OWNED | {"POST": owner_only(201)},
    # nobody has one there; `test_pictures` looks at one
    "picture": {method: signed_in(404) for method in ("GET", "HEAD", "DELETE")},
    "claims": {"POST": signed_in(400)},  # a mistyped code; `test_pictures` claims by a right one
    "reviews": {method: stewards_only(200) for method in ("GET", "HEAD")},
    "review": {method: stewards_only(200) for method in ("GET", "HEAD", "POST")},
    "offers": SIGNED_IN,
    "offer": {"POST": signed_in(404)},  # nothing is offered; `test_kit` answers some
    "kit": {"POST": signed_in(200)},
    "kit_changes": {"POST": owner_only(200)},
    "kit_undo": {"POST": signed_in(404)},
    "labels": {"POST": owner_only(200)},
    "blank_labels": {"POST": signed_in(201)},
    "label": {"POST": owner_only(404)},
    "band_results": SIGNED_IN,
    "folders": {"POST": signed_in(200)},  # a file of no own device is refused; `test_folders`
    "tests": SIGNED_IN | {"POST": owner_only(201)},
    # a steward may withdraw a test, but whether it is published is its owner's choice alone
    "test": OWNED
    | {
        "DELETE": owner_only(204),
        "PATCH": signed_in(400),
    },  # an empty change is refused before anything is looked up
    "test_move": {"POST": owner_only(400)},  # it is of this device already; `test_moves` moves one
    "move_undo": {"POST": signed_in(404)},
    "test_sweep": OWNED,
    "test_chart": OWNED,
    "test_comparison": OWNED,
    "nights": OPERATORS | {"POST": operators_only(201)},
    "night": RUN | {"PATCH": run_only(200)},
    "night_jig": {"POST": run_only(200)},
    "night_confirm": {"POST": stewards_only(200)},
    "night_join": {"POST": stewards_only(204)},
    "night_intake": {"POST": run_only(202)},
    "intake": RUN,
    "intake_answers": {"POST": run_only(409)},  # it asks nothing; `test_moves` answers a question
    "night_moves": {"POST": run_only(409)},  # neither guest brought a device
    "night_bundle": RUN,
    "bundles": {"POST": operators_only(400)},  # no bundle of a trusted key; `test_bundles` sends one
    "bundle": {method: run_only(404) for method in ("GET", "HEAD")},
    "check_standards": OPERATORS | {"POST": operators_only(201)},
    "check_standard": RUN | {"DELETE": run_only(204)},
    "check_holds": OPERATORS,
    "check_hold": RUN | {"POST": run_only(204)},
    NOWHERE: {method: everybody(404) for method in METHODS},
}
OF_DEVICE = (
    "device",
    "pictures",
    "inspections",
    "device_service",
    "device_offers",
    "device_loans",
    "device_return",
)
CASES = [(name, method, role) for name in TABLE for method in METHODS for role in ROLES]


def test_every_address_is_in_the_table():
    named = {pattern.name or NOWHERE for pattern in urls.urlpatterns}
    assert named == set(TABLE)


@pytest.mark.parametrize(("name", "method", "role"), CASES)
def test_what_a_role_may_do(scene: Scene, name: str, method: str, role: str):
    path, options = request_to(scene, name, method)
    response = scene.ask(role, method, path, **options)
    assert response.status_code == expected(name, method, role), response.content[:400]


@pytest.mark.parametrize(("name", "method"), list(dict.fromkeys((name, method) for name, method, _ in CASES)))
def test_a_token_for_reading_stores_nothing(scene: Scene, name: str, method: str):
    """Not even a steward's: it does what the account may, except where that needs an account to store."""
    path, options = request_to(scene, name, method)
    stores = (
        method in TABLE[name] and method not in ("GET", "HEAD") and TABLE[name][method]["anonymous"] == 401
    )
    response = scene.ask("reader", method, path, **options)
    assert response.status_code == (403 if stores else expected(name, method, "steward"))
    if stores:
        assert response.json()["code"] == "token.read_only"


@pytest.mark.parametrize(("name", "method"), list(dict.fromkeys((name, method) for name, method, _ in CASES)))
def test_a_suspended_account_gets_no_answer_at_all(scene: Scene, name: str, method: str):
    """Its token is unknown from that moment on, and an unknown token never gets the public's answer."""
    path, options = request_to(scene, name, method)
    response = scene.ask("suspended", method, path, **options)
    looks_only = method == "OPTIONS" and name != NOWHERE  # it does not read who asks
    assert response.status_code == (204 if looks_only else 401)


UNKNOWN_KEY = "2" * 12
# what a stranger may send with a key in it: (address, query or form, which key of the scene goes there)
FOREIGN = [
    ("tests/", {"device": "device"}),
    ("tests/", {"night": "night"}),
    ("devices/", {"night": "night"}),
]


@pytest.mark.parametrize(("path", "asked"), FOREIGN)
def test_a_foreign_key_in_a_query_looks_like_an_unknown_one(scene: Scene, path: str, asked: dict[str, str]):
    answers = []
    for key_of in (lambda what: getattr(scene, what), lambda _: UNKNOWN_KEY):
        query = "&".join(f"{name}={key_of(what)}" for name, what in asked.items())
        response = scene.ask("stranger", "GET", f"{path}?{query}")
        text = response.content.decode()
        for key in (scene.device, scene.night, UNKNOWN_KEY):
            text = text.replace(key, "KEY")
        answers.append((response.status_code, text))
    assert answers[0] == answers[1]


@pytest.mark.parametrize("field", ["device", "night", "partner"])
def test_a_foreign_key_in_a_form_looks_like_an_unknown_one(scene: Scene, field: str):
    """A stranger uploads to a device of somebody else, at a night it does not run, with a foreign partner."""
    own = factories.device(scene.viewers["stranger"], scene.popular, tag=f"own-{field}")
    keys = {"device": scene.device, "night": scene.night, "partner": scene.test}
    answers = []
    for key in (keys[field], UNKNOWN_KEY):
        form = {"device": own, "measured_on": "2026-03-20", "kind": "insertion_loss", "ratio": "1:1"}
        form |= {"method": "known_partner", "sweep": factories.choke_s2p(2500, seed=6)} | {field: key}
        response = scene.ask("stranger", "POST", "tests/", form=form)
        answers.append((response.status_code, response.content.decode().replace(key, "KEY")))
    assert answers[0][0] >= 400 and answers[0] == answers[1]


def expected(name: str, method: str, role: str) -> int:
    if method in TABLE[name]:
        return TABLE[name][method][role]
    return 204 if method == "OPTIONS" else 405


def request_to(scene: Scene, name: str, method: str) -> tuple[str, dict[str, Any]]:
    """The address of a row with the scene's keys in it, and a body that is in order."""
    if name == NOWHERE:
        return "no/such/place/", {}
    keys = {"id": scene.popular} if name.startswith("design") else {}
    keys = {"id": scene.device} if name in OF_DEVICE else keys
    keys = {"id": scene.analyser} if name in ("analyser", "analyser_checks") else keys
    keys = {"id": scene.test} if name.startswith("test") and name != "tests" else keys
    keys = {"id": scene.test} if name == "review" else keys
    keys = {"id": scene.night} if name.startswith("night") else keys
    keys = {"id": scene.intake} if name in ("intake", "intake_answers") else keys
    keys = {"id": scene.standard} if name == "check_standard" else keys
    keys = {"id": scene.hold} if name == "check_hold" else keys
    unknown = ("offer", "kit_undo", "label", "bundle", "picture", "move_undo")
    keys |= {"id": UNKNOWN_KEY} if name in unknown else {}
    keys |= {"role": "sweep"} if name == "test_sweep" else {}
    keys |= {"number": scene.release} if name.startswith("release") else {}
    keys |= {"number": 1, "name": "evidence.csv"} if name == "pool_file" else {}
    keys |= {"name": "evidence.csv"} if name.endswith("release_file") else {}
    asked = "?band=40m" if name == "predict" and method in ("GET", "HEAD") else ""
    asked = "?band=40m&ratio=49:1&core=5943003801" if name == "predict_ratio" else asked
    return address_of(name, keys) + asked, body_of(scene, name, method)


def address_of(name: str, keys: dict[str, Any]) -> str:
    from django.urls import resolve, reverse

    wanted = next(pattern for pattern in urls.urlpatterns if pattern.name == name)
    taken = {key: keys[key] for key in wanted.pattern.converters}
    address = reverse(f"api:{name}", kwargs=taken)
    assert resolve(address).url_name == name
    return address


def list_confirmed_guests(scene: Scene) -> list[str]:
    """Two confirmed guests of the scene's night."""
    by = factories.member("Olga", "operator")
    keys = [guests.add_attendee(by=by, night=scene.night, name=f"Guest {n}").key for n in range(2)]
    persons.confirm_guests(by=factories.member("Stella", "steward"), night=scene.night, attendees=keys)
    return keys


def body_of(scene: Scene, name: str, method: str) -> dict[str, Any]:
    match (name, method):
        case ("analyse", "POST"):
            return {"form": {"kind": "common_mode", "sweep": factories.choke_s2p()}}
        case ("predict", "POST"):
            return {"json": {"recipe": factories.recipe(), "bands": ["40m"]}}
        case ("identify", "POST"):
            return {"form": {"turns": "8", "sweep": factories.wound_s2p()}}
        case ("designs", "POST"):
            return {"json": factories.recipe(turns=3)}
        case ("devices", "POST"):
            return {"json": {"design": scene.popular, "tag": "new"}}
        case ("inspections", "POST"):
            return {"json": {"inspected_on": "2026-03-20", "findings": {"terminals": {"state": "ok"}}}}
        case ("device", "PATCH"):
            return {"json": {"notes": "rewound"}, "headers": {"If-Match": f'"{scene.device}.1"'}}
        case ("analysers", "POST"):
            return {"json": {"name": "a new one", "paths": 1}}
        case ("analyser", "PATCH"):
            return {"json": {"drift_db": 0.05}}
        case ("analyser_checks", "POST"):
            return {"form": {"check_through": factories.choke_s2p(5.0, one_direction=True)}}
        case ("device_offers", "POST"):
            return {"json": {"name": "Nobody"}}
        case ("device_loans", "POST"):
            return {"json": {"borrower": "Gwenna"}}
        case ("device_return", "POST"):
            return {"json": {}}
        case ("offer", "POST"):
            return {"json": {"yes": True}}
        case ("kit", "POST"):
            return {"json": {"table": "tag,kind\nK-1,choke\n"}}
        case ("kit_changes", "POST"):
            return {"json": {"devices": [scene.device], "place": "Hill site"}}
        case ("labels", "POST"):
            return {"json": {"devices": [scene.device]}}
        case ("blank_labels", "POST"):
            return {"json": {"count": 2}}
        case ("label", "POST"):
            return {"json": {"device": scene.device}}
        case ("pictures", "POST"):
            return {"form": {"picture": photo_samples.picture(), "caption": "the braid"}}
        case ("claims", "POST"):
            return {"json": {"code": "x"}}
        case ("review", "POST"):
            return {"json": {"decision": "reviewed"}}
        case ("folders", "POST"):
            return {
                "form": {"kind": "common_mode", "measured_on": "2026-03-14", "sweep": factories.choke_s2p()}
            }
        case ("nights", "POST"):
            return {"json": {"held_on": "2026-05-14"}}
        case ("night", "PATCH"):
            return {"json": {"notes": "late"}, "headers": {"If-Match": f'"{scene.night}.1"'}}
        case ("check_standards", "POST"):
            return {
                "json": {"device": factories.device(scene.viewers["operator"], scene.popular, tag="yard")}
            }
        case ("check_hold", "POST"):
            return {"json": {"reason": "A plug had come off."}}
        case ("night_jig", "POST"):
            return {"form": {"jig_open": factories.choke_s2p(50_000, points=41)}}
        case ("night_join", "POST"):
            return {"json": dict(zip(("first", "second"), list_confirmed_guests(scene), strict=True))}
        case ("night_moves", "POST"):
            return {"json": dict(zip(("giver", "receiver"), list_confirmed_guests(scene), strict=True))}
        case ("intake_answers", "POST"):
            return {"json": {"group": "tag:C-1", "answer": "drop"}}
        case ("test_move", "POST"):
            return {"json": {"device": scene.device}}
        case ("night_intake", "POST"):
            return {"form": {"sweep": factories.choke_s2p(points=41)}}
        case ("tests", "POST"):
            form = {
                "device": scene.device,
                "measured_on": date(2026, 3, 20).isoformat(),
                "kind": "common_mode",
            }
            return {"form": form | {"sweep": factories.choke_s2p(2500, seed=5)}}
    return {}
