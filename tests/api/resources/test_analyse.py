"""POST analyse/: figures from files or readings, nothing stored, every fault named."""

from __future__ import annotations

import hashlib
import re

import numpy as np
import pytest

from measurements.models import SweepFile, Test
from tests import factories
from tests.api import reply_validation

READINGS = '[{"frequency_hz": 7.0e6, "value": 31.2}, {"frequency_hz": 7.3e6, "value": 30.9}]'
PAIR = factories.choke_s2p(8)
FORM = {"kind": "common_mode", "calibrated": "true"}


def analyse(scene, **fields):
    return scene.ask("anonymous", "POST", "analyse/", form={**FORM, **fields})


def test_a_series_resistor_has_the_rejection_of_the_formula(scene):
    """900 ohm between 50-ohm ports is 20 dB: 20 log10(1 + 900/100) (CISPR 17 asymmetrical circuit)."""
    rows = "\n".join(
        f"{f:.0f} {900 / 1000:.9f} 0 {0.1:.9f} 0 0.1 0 0.9 0" for f in np.linspace(1e6, 30e6, 101)
    )
    result = analyse(scene, sweep=f"# Hz S RI R 50\n{rows}\n".encode()).json()
    band = next(each for each in result["bands"] if each["band"] == "40m")
    assert band["rejection_db"]["worst"] == pytest.approx(20.0, abs=1e-6)
    assert band["impedance_centre_ohm"]["re"] == pytest.approx(900, rel=1e-6)
    assert result["measured"]["s21"] is True


def test_nothing_is_stored(scene):
    before = (Test.objects.count(), SweepFile.objects.count())
    assert analyse(scene, sweep=factories.choke_s2p()).status_code == 200
    assert (Test.objects.count(), SweepFile.objects.count()) == before


def test_readings_in_place_of_a_file(scene):
    result = analyse(scene, readings=READINGS).json()
    assert result["method"] == "readings" and result["inputs"] == []
    band = next(each for each in result["bands"] if each["band"] == "40m")
    assert band["rejection_db"]["worst"] == 30.9 and band["meets"] is None


def test_every_field_of_a_result_is_described(scene):
    """A figure that the engine adds has to be described before it can leave."""
    schemas = reply_validation.document()["components"]["schemas"]
    sent = [
        {"sweep": factories.choke_s2p()},
        {"kind": "load_match", "ratio": "1:1", "load_ohm": "50", "sweep": factories.choke_s2p(60)},
        {"kind": "insertion_loss", "sweep": factories.choke_s2p(5)},
        {"kind": "insertion_loss", "pair_ab": PAIR, "pair_ac": PAIR + b"!\n", "pair_bc": PAIR + b"! \n"},
        {"kind": "balance", "sweep_12": factories.choke_s2p(60), "sweep_13": factories.choke_s2p(70)},
        {"readings": READINGS},
        {"kind": "in_situ", "sweep": factories.choke_s2p(60), "sweep_bypassed": factories.choke_s2p(30)},
    ]
    for fields in sent:
        reply = analyse(scene, **fields)
        assert reply.status_code == 200, reply.content
        result = reply.json()
        assert set(result) == set(schemas["Result"]["properties"])
        assert set(result["summary"]) <= set(schemas["ResultSummary"]["properties"])
        for band in result["bands"]:
            assert set(band) <= set(schemas["BandResult"]["properties"])


REFUSED = [
    ({}, 400, None),
    ({"kind": "lamp", "sweep": b"x"}, 400, "kind"),
    ({"ratio": "0:1", "sweep": b"x"}, 400, "ratio"),
    ({"load_ohm": "nan", "sweep": b"x"}, 400, "load_ohm"),
    ({"calibrated": "perhaps", "sweep": b"x"}, 400, "calibrated"),
    ({"region": "4", "sweep": b"x"}, 400, "region"),
    ({"method": "direct", "sweep": b"x"}, 400, "method"),
    ({"readings": "{"}, 400, "readings"),
    ({"readings": '[{"frequency_hz": 1e999, "value": 3}]'}, 400, "readings"),
    ({"colour": "red", "sweep": b"x"}, 400, "colour"),
    ({"photo": b"x"}, 400, "photo"),
    ({"kind": b"common_mode"}, 400, "kind"),
    ({"sweep": "# Hz S RI R 50"}, 400, "sweep"),
    ({"sweep": b""}, 400, "sweep"),
    ({"sweep": b"\x00\xff\xfe"}, 400, "sweep"),
    ({"sweep": b"# Hz S RI R 50\n1e6 nan 0 0 0 0 0 0 0\n"}, 400, "sweep"),
    ({"sweep": b"# Hz S RI R 50\n" + b"1" * 9_000_000}, 413, "sweep"),
]


@pytest.mark.parametrize(("fields", "status", "field"), REFUSED, ids=range(len(REFUSED)))
def test_a_fault_is_named(scene, fields, status, field):
    reply = analyse(scene, **fields)
    assert reply.status_code == status, reply.content
    if field is not None:
        assert field in [error["field"] for error in reply.json()["errors"]]


def test_a_fault_in_a_file_names_its_line(scene):
    lines = factories.choke_s2p().decode().splitlines()
    lines[6] = "nonsense"
    reply = analyse(scene, sweep="\n".join(lines).encode())
    error = reply.json()["errors"][0]
    assert (reply.status_code, error["field"], error["line"]) == (400, "sweep", 7)


def test_a_field_or_file_given_twice_is_refused(scene):
    body = (
        b'--B\r\nContent-Disposition: form-data; name="kind"\r\n\r\ncommon_mode\r\n'
        b'--B\r\nContent-Disposition: form-data; name="kind"\r\n\r\nbalance\r\n--B--\r\n'
    )
    reply = scene.ask(
        "anonymous", "POST", "analyse/", data=body, content_type="multipart/form-data; boundary=B"
    )
    assert reply.json()["errors"][0] == {
        "field": "kind",
        "code": "field.repeated",
        "detail": "Give this once.",
    }
    part = b'--B\r\nContent-Disposition: form-data; name="sweep"; filename="a.s2p"\r\n\r\nx\r\n'
    kind = b'--B\r\nContent-Disposition: form-data; name="kind"\r\n\r\ncommon_mode\r\n'
    reply = scene.ask(
        "anonymous",
        "POST",
        "analyse/",
        data=kind + part + part + b"--B--\r\n",
        content_type="multipart/form-data; boundary=B",
    )
    assert reply.json()["errors"][0]["field"] == "sweep"


@pytest.mark.parametrize(
    ("media_type", "body", "status"),
    [
        ("multipart/form-data", b"x", 400),
        ("multipart/form-data; boundary=", b"x", 400),
        ("multipart/form-data; boundary=B; charset=hex", b"--B--\r\n", 415),
        ("application/json", b"{}", 415),
        (
            "multipart/form-data; boundary=B",
            b"--B\r\nContent-Disposition: form-data\r\n\r\nx\r\n--B--\r\n",
            400,
        ),
    ],
)
def test_a_form_that_is_none(scene, media_type, body, status):
    assert (
        scene.ask("anonymous", "POST", "analyse/", data=body, content_type=media_type).status_code == status
    )


def test_too_many_fields_and_files(scene):
    many = {f"field{index}": "x" for index in range(300)}
    assert analyse(scene, **many).status_code == 413
    assert analyse(scene, **{f"file{index}": b"x" for index in range(600)}).status_code == 413


def test_one_declared_too_large_is_not_read(scene):
    """Counted like every request, then refused."""
    reply = scene.ask(
        "anonymous", "POST", "analyse/", data=b"x", content_type="text/plain", CONTENT_LENGTH="99999999"
    )
    assert reply.status_code == 413 and reply_validation.problem(reply)["code"] == "request.too_large"


def test_no_reply_repeats_the_bytes_sent(scene):
    marker = hashlib.sha256(b"marker").hexdigest()
    reply = analyse(scene, sweep=f"# Hz S RI R 50\n{marker}\n".encode())
    assert reply.status_code == 400 and not re.search(marker, reply.content.decode())
