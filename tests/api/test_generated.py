"""Generated requests: 100 to each operation of openapi.yaml, valid and broken, signed in and not.

No reply is a server error, none has a status, type, header or content that is not described. The cases
are the same on every run.
"""

from __future__ import annotations

import zlib
from collections import Counter
from functools import lru_cache
from typing import Any

import pytest
import schemathesis
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from measurements.services.uploads import uploads
from tests import factories
from tests.api import reply_validation
from tests.api.scene import Scene

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
ROLES_OF_FILES = (*uploads.ROLES, "pair_ab", "pair_ac", "pair_bc")
SWEEPS = (factories.choke_s2p(points=41), factories.choke_s2p(40, points=41, one_direction=True))
ROLES = ("owner", "anonymous", "steward", "operator")
ANSWERED: Counter[tuple[str, str]] = Counter()  # by role and first digit of the status


@lru_cache(maxsize=1)
def handler() -> WSGIHandler:
    """The server's own entry, made when the tests' directory of static files is in place."""
    return WSGIHandler()


def served(environ: dict[str, Any], start_response: Any) -> Any:
    return handler()(environ, start_response)


@pytest.fixture(scope="module", autouse=True)
def _figures():
    """How many requests each role sent, and how they were answered: shown with `-s`."""
    yield
    for role in ROLES:
        counts = {status: count for (who, status), count in sorted(ANSWERED.items()) if who == role}
        print(f"\n{role}: {sum(counts.values())} requests, {counts}", end="")


@pytest.fixture(autouse=True)
def _one_transaction():
    """As in Django's own test client: the end of a request must not close the test's connection."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


GENERATED = schemathesis.openapi.from_dict(reply_validation.document())
GENERATED.app = served


@GENERATED.parametrize()
@settings(
    max_examples=100,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
def test_an_operation_keeps_its_word(case, scene):
    role = ROLES[hash_of(case) % len(ROLES)]
    known_keys(case, scene)
    headers = {"Accept-Encoding": "identity"}  # the tool reads replies without unpacking them
    if role in scene.tokens:
        headers["Authorization"] = f"Token {scene.tokens[role]}"
    response = case.call(base_url="http://localhost", headers=headers)
    ANSWERED[role, f"{response.status_code // 100}xx"] += 1
    case.validate_response(response, checks=CHECKS)


def hash_of(case: schemathesis.Case) -> int:
    """A number that depends on the generated content alone, so that a failure can be played again."""
    return zlib.crc32(repr((case.path_parameters, case.query, case.headers, case.body)).encode())


def known_keys(case: schemathesis.Case, scene: Scene) -> None:
    """Three times in four keys and files are ones that exist: else little but refusals would be tried."""
    if hash_of(case) % 4 == 0:
        return
    known_body(case, scene)
    known: dict[str, Any] = {"role": "sweep", "number": scene.release, "id": scene.popular}
    known["name"] = ("evidence.ndjson", "evidence.csv", "manifest.json")[hash_of(case) % 3]
    if "/devices/" in case.path:
        known["id"] = scene.device
    elif "/tests/" in case.path or "/reviews/" in case.path:
        known["id"] = scene.test
    elif "/nights/" in case.path:
        known["id"] = scene.night
    elif "/intakes/" in case.path:
        known["id"] = scene.intake
    for name in case.path_parameters or {}:
        case.path_parameters[name] = known[name]


def known_body(case: schemathesis.Case, scene: Scene) -> None:
    """Real keys and a real sweep in place of generated ones, beside the generated settings."""
    if not isinstance(case.body, dict):
        return
    known = {"design": scene.popular, "device": scene.device}
    case.body |= {name: key for name, key in known.items() if name in case.body}
    if case.media_type == "multipart/form-data":
        texts = {name: value for name, value in case.body.items() if name not in ROLES_OF_FILES}
        role = "jig_open" if case.path.endswith("/jig/") else "sweep"
        case.body = texts | {role: SWEEPS[hash_of(case) % len(SWEEPS)]}
