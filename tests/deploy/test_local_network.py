"""deploy/run --lan: addresses, clock and zone of the machine, and a greeting with a code."""

import ipaddress
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import ifaddr
import numpy as np
import pytest
import zxingcpp

from deploy import local_network

NOW = datetime(2026, 1, 10, 3, 30, tzinfo=UTC)


def _adapters(*addresses: str):
    listed = [SimpleNamespace(ip=each, is_IPv4=":" not in each) for each in addresses]
    return [SimpleNamespace(ips=[each]) for each in listed]


@pytest.mark.parametrize(
    "there, found",
    [
        (["127.0.0.1", "::1"], []),
        (["127.0.0.1", "169.254.7.7"], []),  # RFC 3927: no network answered
        (["203.0.113.9", "10.42.0.1", "fe80::1"], ["10.42.0.1", "203.0.113.9"]),  # RFC 5737, RFC 1918
        (["192.168.4.1", "192.168.4.1"], ["192.168.4.1"]),
    ],
)
def test_addresses_are_those_that_a_phone_can_reach(monkeypatch, there, found):
    monkeypatch.setattr(ifaddr, "get_adapters", lambda: _adapters(*there))
    assert local_network.list_lan_addresses() == found


def test_real_interfaces_are_read():
    assert all(ipaddress.ip_address(each) for each in local_network.list_lan_addresses())


def test_hosts_are_addresses_and_names(monkeypatch):
    monkeypatch.setattr("socket.gethostname", lambda: "FieldBox.example")
    assert local_network.list_host_names(["10.42.0.1"]) == [
        "127.0.0.1", "localhost", "[::1]", "10.42.0.1", "fieldbox", "fieldbox.local",
    ]  # fmt: skip


def test_a_wrong_zone_is_asked_again_and_enter_takes_the_machines():
    answers, told = iter(["Middle Earth", "Europe/Lisbon"]), []
    assert local_network.ask_for_zone("UTC", ask=lambda _: next(answers), tell=told.append) == "Europe/Lisbon"
    assert "Middle Earth is no time zone" in told[0]
    assert local_network.ask_for_zone("UTC", ask=lambda _: "") == "UTC"


def test_the_clock_is_shown_in_the_zone_and_confirmed():
    asked = []

    def answer(question: str) -> str:
        asked.append(question)
        return "n"

    assert not local_network.confirm_clock("America/Los_Angeles", ask=answer, now=NOW)
    assert "Friday 9 January 2026, 19:30 in America/Los_Angeles" in asked[0]
    assert local_network.confirm_clock("UTC", ask=lambda _: "", now=NOW)


def test_a_clock_behind_what_is_stored_is_wrong():
    assert local_network.is_clock_behind(NOW, NOW + timedelta(days=3))
    assert not local_network.is_clock_behind(NOW, NOW + timedelta(minutes=1))
    assert not local_network.is_clock_behind(NOW, None)


def test_the_code_on_the_terminal_reads_as_the_address():
    """Each character holds two modules, one above the other; read by an independent library (ZXing)."""
    address = "http://10.42.0.1:8000/"
    lines = [line for line in local_network.draw_qr_text(address).splitlines() if line.strip("\x1b[0m ")]
    halves = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    rows = []
    for line in lines:
        cells = [halves[each] for each in line if each in halves]
        rows += [[upper for upper, _ in cells], [lower for _, lower in cells]]
    width = max(map(len, rows))
    light = np.array([row + [0] * (width - len(row)) for row in rows], np.uint8)
    picture = np.pad(
        np.kron(light * 255, np.ones((6, 6), np.uint8)).astype(np.uint8), 24, constant_values=255
    )
    assert {each.text for each in zxingcpp.read_barcodes(picture)} == {address}
