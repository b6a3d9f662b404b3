"""deploy/run --lan: the addresses of this machine on its networks, its clock, and what to tell people.

Without internet: it looks at the machine alone. `ifaddr` lists its network interfaces; the standard
library cannot on every system.
"""

from __future__ import annotations

import io
import ipaddress
import socket
import sys
import zoneinfo
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import ifaddr
import segno

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
WARNING = (
    "This is plain http: whoever is on this network can read what is sent, passwords and sign-in links "
    "included. Use a network of your own, such as this laptop's hotspot, and never a public one."
)
# a clock that lags further behind what is stored cannot be right
CLOCK_SLACK = timedelta(minutes=10)
LOCAL_TIME = Path("/etc/localtime")


def list_lan_addresses() -> list[str]:
    """List the IPv4 addresses of this machine on its networks, private ones first.

    Leaves out loopback and addresses that a machine gives itself where no network answers (RFC 3927).
    """
    found = [
        ipaddress.ip_address(each.ip)
        for adapter in ifaddr.get_adapters()
        for each in adapter.ips
        if each.is_IPv4
    ]
    reachable = {
        each for each in found if not (each.is_loopback or each.is_link_local or each.is_unspecified)
    }
    return [str(each) for each in sorted(reachable, key=lambda each: (not each.is_private, each))]


def list_host_names(addresses: Iterable[str]) -> list[str]:
    """List the hosts under which a phone may reach this machine: addresses, its name, and its .local name."""
    name = socket.gethostname().split(".")[0].lower()
    return [*LOOPBACK, *addresses, *([name, f"{name}.local"] if name and name != "localhost" else [])]


def find_machine_zone() -> str:
    """Return the machine's time zone as an IANA name; UTC where it names none."""
    try:
        name = str(LOCAL_TIME.resolve()).partition("zoneinfo/")[2]
        zoneinfo.ZoneInfo(name)
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        return "UTC"
    return name


def describe_clock(now: datetime, zone: str) -> str:
    """Format the machine's time in a zone, such as `Friday 14 November 2025, 19:30 in Europe/Lisbon`."""
    there = now.astimezone(zoneinfo.ZoneInfo(zone))
    return f"{there:%A} {there.day} {there:%B %Y, %H:%M} in {zone}"


def is_clock_behind(now: datetime, newest: datetime | None) -> bool:
    """Say whether the clock lags behind the newest stored row: a board without a battery starts late."""
    return newest is not None and now < newest - CLOCK_SLACK


def ask_for_zone(
    default: str, *, ask: Callable[[str], str] = input, tell: Callable[[str], object] = sys.stderr.write
) -> str:
    """Ask for the time zone until it is one; Enter takes the default."""
    while True:
        given = ask(f"Time zone of the group [{default}]: ").strip() or default
        try:
            zoneinfo.ZoneInfo(given)
        except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
            tell(f"{given} is no time zone. Give a name such as Europe/Lisbon or America/Denver.\n")
        else:
            return given


def confirm_clock(zone: str, *, ask: Callable[[str], str] = input, now: datetime | None = None) -> bool:
    """Ask whether the clock is right; Enter says yes."""
    told = describe_clock(now or datetime.now(UTC), zone)
    return ask(f"This machine says: {told}. Is that right? [Y/n] ").strip().lower() in ("", "y", "yes")


def draw_qr_text(address: str) -> str:
    """Draw a QR code of an address for a terminal, two modules a line of text."""
    drawn = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(drawn, compact=True, border=2)
    return drawn.getvalue()
