"""Replies carry digits that mean something, one form of times and one of a missing value."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from api.http.fields import moment_field
from api.http.significant import round_figure, round_figures
from measurements.models import Result
from tests import factories

MOMENT = re.compile(r"\d{4}-\d\d-\d\dT[0-9:.]+Z")
NUMBER = re.compile(r"-?\d+\.\d+(?:[eE][+-]?\d+)?")
READ = ("tests/", "designs/", "devices/", "designs/{popular}/curves/", "tests/{test}/")


def count_digits(text: str) -> int:
    """Count the significant digits of a number as written."""
    mantissa = re.split("[eE]", text)[0].lstrip("-").replace(".", "").lstrip("0")
    return len(mantissa.rstrip("0"))


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_rounding_keeps_five_digits(value):
    """IEEE 754: five decimal digits are off by half a unit of the fifth at most."""
    assert abs(round_figure(value, "loss_db") - value) <= max(abs(value) * 0.51e-4, 1e-318)


@given(st.integers(0, 999_999_999))
def test_a_place_on_a_grid_is_exact_to_the_hertz(freq_hz):
    assert round_figure(float(freq_hz), "worst_hz") == freq_hz


def test_what_is_no_figure_stays():
    sent = {"load_ohm": 47.123456789}
    row = {"a": "1.23456789", "n": 123456789, "settings": sent, "b": [None, True, 0.123456]}
    assert round_figures(row) == {**row, "b": [None, True, 0.12346]}


@pytest.mark.parametrize("form", ["json", "csv", "ndjson"])
@pytest.mark.parametrize("path", READ)
def test_no_reply_has_more_digits(scene, path, form):
    path = path.format(popular=scene.popular, test=scene.test)
    if form != "json" and path.count("/") > 1:
        return
    text = scene.ask("owner", "GET", f"{path}?format={form}").content.decode()
    text = MOMENT.sub("", text)
    long = [found for found in NUMBER.findall(text) if count_digits(found) > 9]
    assert long == []
    figures = [found for found in NUMBER.findall(text) if not found.endswith(".0") and "." in found]
    assert [found for found in figures if count_digits(found) > 5 and float(found) < 1e5] == []


def test_computing_without_storing_too(scene):
    form = {"kind": "common_mode", "calibrated": "true", "sweep": factories.choke_s2p(2900)}
    text = scene.ask("anonymous", "POST", "analyse/", form=form).content.decode()
    assert [found for found in NUMBER.findall(text) if count_digits(found) > 5 and float(found) < 1e5] == []


def test_what_is_stored_keeps_its_digits(scene):
    """Recomputing compares stored figures; a reply's rounding must not reach them."""
    figures = json.dumps(Result.objects.get(test__key=scene.test, current=True).figures)
    assert any(count_digits(found) > 9 for found in NUMBER.findall(figures))


@pytest.mark.parametrize("path", ["devices/", "tests/", "releases/", "nights/"])
@pytest.mark.parametrize("zone", ["UTC", "America/Denver"])
def test_times_end_in_z_whatever_zone_the_pages_use(scene, settings, path, zone):
    settings.TIME_ZONE = zone
    text = scene.ask("operator", "GET", path).content.decode()
    text += scene.ask("operator", "GET", f"{path}?format=csv").content.decode()
    moments = re.findall(r"\d{4}-\d\d-\d\dT[^\",\r\n]+", text)
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z", each) for each in moments)
    assert moments or path in ("devices/", "tests/")


def test_a_moment_is_written_in_utc():
    with timezone.override("America/Denver"):
        assert (
            moment_field().to_representation(datetime(2026, 1, 2, 3, 4, tzinfo=UTC)) == "2026-01-02T03:04:00Z"
        )


def test_the_manifest_of_a_release_writes_times_alike(scene):
    manifest = scene.ask_unchecked("owner", "GET", f"releases/{scene.release}/files/manifest.json/")
    assert json.loads(manifest.getvalue())["made_at"].endswith("Z")


def test_a_missing_value_is_null_and_an_empty_cell(scene):
    lines = (
        scene.ask("owner", "GET", "tests/?format=ndjson").content.decode()
        + scene.ask("owner", "GET", "devices/?format=csv").content.decode()
    )
    assert not re.search(r'(?i)[,":]\s*(nan|n/a|"null")\s*[,"}]', lines)
