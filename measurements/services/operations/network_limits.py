"""How often one network may ask: the one throttle of pages and API for whoever is not signed in.

A network is an IPv4 address, or of IPv6 the /64 that one household or phone has all of (RFC 6177, RFC 7934)
and the /48 above it, which one customer may have: whoever changes addresses inside it is still counted. It is
known by a keyed hash, so that no address is stored.
"""

from __future__ import annotations

import ipaddress

from django.utils.crypto import salted_hmac

from measurements.services.operations import use_counts
from measurements.services.operations.use_counts import Allowance

WIDE_FACTOR = 6  # times the limit of a /64 for the /48 above it
NARROW_BITS, WIDE_BITS = 64, 48
MINUTE_S = 60
COMPUTING = "computing"  # the scope of what is computed while somebody waits, by either door


def list_networks(address: str) -> tuple[str, ...]:
    """List the networks that an address counts under, the narrowest first; a text that is none is itself."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return (address,)
    if isinstance(parsed, ipaddress.IPv4Address):
        return (str(parsed),)
    # of a socket for both: without this all of IPv4 would be one /64
    if parsed.ipv4_mapped is not None:
        return (str(parsed.ipv4_mapped),)
    return tuple(str(ipaddress.ip_network((parsed, bits), strict=False)) for bits in (NARROW_BITS, WIDE_BITS))


def build_limits(scope: str, address: str, limit: int, who: str = "") -> dict[str, int]:
    """Build key -> limit of each network of the address, for `use_counts.count_uses`.

    who: counts this account at this network apart; an account is not followed beyond the narrowest one.
    """
    networks = list_networks(address)[: 1 if who else None]
    factors = (1, WIDE_FACTOR)
    return {
        f"{scope}:{hash_network(f'{who}|{network}' if who else network)}": limit * factor
        for network, factor in zip(networks, factors, strict=False)
    }


def count_visit(scope: str, address: str, *, limit: int) -> Allowance:
    """Count one request of a network in this minute, in all its networks at once; the strictest answers."""
    limits = build_limits(scope, address, limit)
    return use_counts.count_uses(limits, window_s=MINUTE_S)


def hash_network(text: str) -> str:
    """Hash a network for the table of counts."""
    return salted_hmac("measurements.network_limits", text, algorithm="sha256").hexdigest()[:32]
