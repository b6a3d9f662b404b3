"""A client made from the committed description by a well-kept generator, used on a live server."""

from __future__ import annotations

import datetime
import importlib
import io
import sys
from pathlib import Path

import pytest

from deploy.virtualenv import ROOT
from measurements.models import Device, Test
from tests import factories
from tests.api import reply_validation
from tests.clients.conftest import Group, run

pytestmark = pytest.mark.django_db(transaction=True)
PACKAGE = "benchnight_client"


@pytest.fixture(scope="module")
def generated(tmp_path_factory):
    """The package's name, importable; made once."""
    place = tmp_path_factory.mktemp("generated")
    (place / "quick.yaml").write_text("post_hooks: []\nliteral_enums: true\n")
    description = ROOT / "api" / "openapi.yaml"
    made = run(
        [
            "openapi-python-client",
            "generate",
            "--path",
            str(description),
            "--config",
            "quick.yaml",
            "--meta",
            "none",
        ],
        place,
    )
    assert made.returncode == 0, made.stderr + made.stdout
    assert (place / PACKAGE).is_dir(), list(place.iterdir())
    sys.path.insert(0, str(place))
    yield PACKAGE
    sys.path.remove(str(place))


def part(of: str, generated: str):
    return importlib.import_module(f"{generated}.{of}")


def test_it_finds_analyses_registers_and_uploads(generated, group: Group):
    client_of = part("client", generated)
    anybody = client_of.Client(base_url=group.address, raise_on_unexpected_status=True)
    ada = client_of.AuthenticatedClient(
        base_url=group.address, token=group.token, prefix="Token", raise_on_unexpected_status=True
    )
    models = part("models", generated)

    with anybody as client:
        found = part("api.designs.designs", generated).sync(client=client, band=["40m", "20m"])
        assert [design.id for design in found.results] == [group.design]
        assert found.results[0].joint.verdict == "typically_meets"

        file = part("types", generated).File
        sweep = file(io.BytesIO(factories.choke_s2p(2900, seed=601)), "choke.s2p", "text/plain")
        form = models.AnalyseFormRequest(kind="common_mode", calibrated=True, sweep=sweep)
        result = part("api.analysis.analyse", generated).sync(client=client, body=form)
        assert result.kind == "common_mode" and result.span.points == 401

    with ada as client:
        sent = models.DeviceRegistrationRequest(design=group.design, tag="generated")
        register = part("api.devices.register_device", generated)
        devices = [register.sync(client=client, body=sent, idempotency_key="once") for _ in range(2)]
        assert devices[0].id == devices[1].id and devices[0].tag == "generated"

        form = models.TestFormRequest(
            kind="common_mode",
            calibrated=True,
            device=devices[0].id,
            measured_on=datetime.date(2026, 3, 14),
            sweep=file(io.BytesIO(factories.choke_s2p(2900, seed=602)), "choke.s2p", "text/plain"),
        )
        test = part("api.tests.record_test", generated).sync(client=client, body=form)
        assert test.device == devices[0].id and test.result.bands

    with client_of.Client(base_url=group.address) as client:
        refused = register.sync(client=client, body=sent)
    assert isinstance(refused, models.Problem) and refused.code == "sign_in.required"
    assert Device.objects.filter(tag="generated").count() == 1
    assert Test.objects.filter(device__tag="generated").count() == 1


def test_it_has_every_operation(generated):
    """The generator leaves out, with a warning, what it cannot make sense of."""
    package = Path(part("client", generated).__file__).parent
    made = {path.stem for path in package.glob("api/*/*.py") if path.stem != "__init__"}
    described_ones = {
        operation["operationId"]
        for item in reply_validation.document()["paths"].values()
        for operation in item.values()
    }
    assert made == described_ones
