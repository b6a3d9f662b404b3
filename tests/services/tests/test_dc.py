"""An ohmmeter test is stored without a file, held against its design's type, and decides the state."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.errors import BenchnightError
from measurements.models import Result
from measurements.selectors.upkeep import service_states
from measurements.services.tests import recomputation, tests
from measurements.services.uploads.dc_settings import choose_dc_type
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

GOOD = '[{"from":"C","to":"A","ohm":0.2},{"from":"S","to":"B","ohm":0.2},{"from":"C","to":"S","ohm":null}]'
BROKEN = GOOD.replace('"A","ohm":0.2', '"A","ohm":null')


def read(by, device, readings=GOOD, day=date(2026, 6, 1), **more) -> str:
    settings = parse_settings({"kind": "dc", "dc_readings": readings, **more})
    return tests.record_test(by=by, device=device, uploads={}, settings=settings, measured_on=day).key


def figures(key):
    return Result.objects.get(test__key=key, current=True).figures


def test_the_type_comes_from_the_design(member):
    choke = factories.device(member)
    assert figures(read(member, choke))["summary"]["dc_type"] == "current_1_1"
    voltage = factories.device(
        member, factories.design(member, purpose="balun", principle="voltage"), tag="V-1"
    )
    found = figures(read(member, voltage))["summary"]
    assert (found["dc_type"], found["meets"]) == ("all_joined", False)
    named = figures(read(member, voltage, dc_type="current_1_1"))["summary"]
    assert (named["dc_type"], named["meets"]) == ("current_1_1", True)


@pytest.mark.parametrize(
    ("purpose", "principle", "ratio", "expected"),
    [
        ("choke", "current", "1:1", "current_1_1"),
        ("balun", "current", "1:1", "current_1_1"),
        ("balun", "current", "4:1", "all_joined"),
        ("balun", "voltage", "1:1", "all_joined"),
        ("unun", "voltage", "49:1", "all_joined"),
        ("balun", "current", "9:1", None),
        ("balun", "hybrid", "4:1", None),
    ],
)
def test_types(purpose, principle, ratio, expected):
    assert choose_dc_type(purpose, principle, ratio) == expected


def test_a_fault_stands_until_it_is_read_again_and_good(member):
    device = factories.device(member)
    factories.record(member, device)
    read(member, device, BROKEN)
    state = service_states.get_service_state(member, device)
    assert state.state == "unserviceable"
    assert "C to A reads open and should be joined" in " ".join(each.message for each in state.reasons)
    read(member, device, GOOD, day=date(2026, 6, 2))
    state = service_states.get_service_state(member, device)
    assert state.state != "unserviceable"
    assert "dc_good" in {each.code for each in state.reasons}


def test_common_mode_alone_never_makes_a_balun_serviceable(member):
    design = factories.design(member, purpose="balun", principle="current")
    device = factories.device(member, design)
    factories.record(member, device, measured_on=date.today())
    state = service_states.get_service_state(member, device)
    assert state.state == "untested" and "through_path_unknown" in {each.code for each in state.reasons}
    read(member, device, day=date.today())
    assert service_states.get_service_state(member, device).state != "untested"


def test_readings_that_cannot_show_the_fault_do_not_help(member):
    """A two-line 4:1 reads near 0 everywhere, broken or not: only a load match settles it."""
    design = factories.design(member, purpose="balun", principle="current", ratio="4:1")
    device = factories.device(member, design)
    factories.record(member, device, measured_on=date.today())
    joined = '[{"from":"C","to":"A","ohm":0.1},{"from":"C","to":"S","ohm":0.1}]'
    read(member, device, joined, day=date.today())
    assert service_states.get_service_state(member, device).state == "untested"


def test_it_is_recomputed_from_its_settings(member, monkeypatch):
    key = read(member, factories.device(member), dc_options="bleeder", insulation_mohm="200")
    before = figures(key)["summary"]
    monkeypatch.setattr(recomputation, "ENGINE_VERSION", "99.0.0")
    monkeypatch.setattr("measurements.services.tests.results.ENGINE_VERSION", "99.0.0")
    assert recomputation.recompute_stale_tests() == 1
    assert figures(key)["summary"] == before and before["options"] == ["bleeder"]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": "dc"}, "dc_readings"),
        ({"kind": "dc", "dc_readings": "x"}, "dc_readings"),
        ({"kind": "dc", "dc_readings": GOOD, "dc_type": "x"}, "dc_type"),
        ({"kind": "dc", "dc_readings": GOOD, "dc_options": "bleeder,x"}, "dc_options"),
        ({"kind": "dc", "dc_readings": GOOD, "insulation_mohm": "-1"}, "insulation_mohm"),
        ({"kind": "load_match", "dc_readings": GOOD}, "dc_readings"),
    ],
)
def test_settings_that_are_wrong_are_named(given, field):
    with pytest.raises(BenchnightError) as caught:
        parse_settings(given)
    assert field in {fault.field for fault in caught.value.errors}


def test_a_file_beside_the_readings_is_refused(member):
    settings = parse_settings({"kind": "dc", "dc_readings": GOOD})
    with pytest.raises(BenchnightError) as caught:
        tests.record_test(
            by=member,
            device=factories.device(member),
            uploads={"sweep": Upload("x.s2p", factories.choke_s2p(points=11))},
            settings=settings,
            measured_on=date(2026, 6, 1),
        )
    assert caught.value.code == "dc.file"
