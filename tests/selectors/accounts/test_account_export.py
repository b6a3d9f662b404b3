"""The copy of an account holds all that is its own, byte for byte, and nothing of anybody else."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from datetime import date

import pytest

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import DevicePhoto, Inspection
from measurements.selectors.accounts import account_export
from measurements.selectors.tests import tests
from measurements.services.accounts import access_tokens, membership
from measurements.services.devices import devices
from measurements.services.releases import releases
from measurements.services.tests import review
from measurements.services.upkeep import fault_searches, inspections, photos
from tests import factories
from tests.photo_samples import picture

pytestmark = pytest.mark.usefixtures("reference_data")


def copied(viewer) -> zipfile.ZipFile:
    target = io.BytesIO()
    account_export.write_account_export(viewer, target)
    archive = zipfile.ZipFile(target)
    assert archive.testzip() is None
    return archive


def test_everything_of_the_account_and_of_nobody_else():
    design = factories.evidence(5)
    ada, stella = factories.member("person-0"), factories.member("stella-steward", "steward")
    device = devices.register_device(by=ada, design=design, tag="../up & away", notes="mine").key
    data = factories.choke_s2p(seed=7, comment="own comment")
    test = factories.record(ada, device, data, name="../../etc/my sweep.s2p")
    token = access_tokens.issue_token(name="person-0", days=3, label="bench")
    review.exclude_test(by=stella, test=test, reason="the clips were swapped")
    releases.make_release()
    archive = copied(ada)
    names = archive.namelist()
    assert not any(name.startswith("/") or ".." in name.split("/") for name in names)
    folder = f"devices/_up___away-{device}"
    assert archive.read(f"{folder}/tests/{test}/sweep.s2p") == data
    stored = json.loads(archive.read(f"{folder}/tests/{test}/test.json"))
    assert stored["files"][0]["raw_sha256"] == hashlib.sha256(data).hexdigest()
    assert stored["excluded_reason"] == "the clips were swapped"
    assert stored["results"][0]["figures"]["kind"] == "common_mode"
    curves = stored["results"][0]["traces"]
    assert curves == tests.get_traces(ada, test) and len(curves["rejection_db"]) > 100
    described = json.loads(archive.read(f"{folder}/device.json"))
    assert (described["tag"], described["notes"]) == ("../up & away", "mine")
    account = json.loads(archive.read("account.json"))
    assert (account["name"], account["tokens"][0]["label"]) == ("person-0", "bench")
    assert len(json.loads(archive.read("published.json"))) == 1
    lines = [json.loads(line) for line in archive.read("audit.ndjson").splitlines()]
    excluded = next(line for line in lines if line["action"] == "test.exclude")
    assert (excluded["subject"], excluded["actor"]) == (test, "(another account)")
    assert {"device.register", "test.record", "token.issue"} <= {line["action"] for line in lines}
    whole = b"".join(archive.read(name) for name in names)
    for theirs in (b"person-1", b"stella", token.encode()):
        assert theirs not in whole


def test_inspections_pictures_and_fault_searches_are_in_it():
    ada = factories.member("Ada")
    device = factories.device(ada)
    inspections.record_inspection(
        by=ada,
        device=device,
        inspected_on=date(2026, 2, 18),
        findings={"terminals": {"state": "watch", "note": "a little green"}},
        notes="on the mast",
    )
    photo = photos.add_photo(by=ada, device=device, data=picture(), caption="the lid").key
    fault_searches.begin_fault_search(by=ada, device=device, symptom="high_swr", band="40m")
    archive = copied(ada)
    folder = f"devices/C-1-{device}"
    described = json.loads(archive.read(f"{folder}/device.json"))
    assert described["inspections"][0]["findings"]["terminals"]["note"] == "a little green"
    assert described["fault_searches"][0]["symptom"] == "high_swr"
    assert described["photos"][0]["caption"] == "the lid"
    assert archive.read(f"{folder}/photos/{photo}.jpeg").startswith(b"\xff\xd8")
    assert membership.delete_account(by=ada, name="Ada") == 1
    assert not DevicePhoto.objects.exists() and not Inspection.objects.exists()


def test_a_member_without_anything_gets_a_copy_too():
    archive = copied(factories.member("Nils"))
    assert set(archive.namelist()) == {"README.txt", "account.json", "published.json", "audit.ndjson"}
    lines = archive.read("audit.ndjson").splitlines()
    assert [json.loads(line)["action"] for line in lines] == ["account.ensure"]


def test_nobody_gets_none():
    with pytest.raises(BenchnightError):
        account_export.write_account_export(ANONYMOUS, io.BytesIO())
