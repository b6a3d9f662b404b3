"""How often a bypass test is wrong, counted on simulated antennas and devices (`tests/rf/feed_points.py`).

28 antennas (7 families, 4 bands) in 4 states, each with a device of its ratio in 4 states: 448 pairs a draw.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from measurements.rf.bands import Band
from measurements.rf.kinds import bypass_findings
from tests.rf import feed_points

FAMILIES = ("dipole", "loop", "loop_4_1", "vertical", "end_fed_9_1", "end_fed_49_1", "doublet")
ANTENNA_STATES = ("healthy", "detuned", "corroded", "broken")
DEVICE_STATES = ("healthy", "lossy", "open", "shorted")
DRAWS = 4


def curve(s11, ratio=1):
    return bypass_findings.ReflectionCurve(
        feed_points.FREQ_HZ, *bypass_findings.refer_reflection(s11, ratio, 0.01)
    )


def bypass_once(rng, family, band_name, antenna_state, device_state):
    """Simulate commissioning and one bypass test; answer its finding, the antenna's change, hidden loss."""
    band = Band(band_name, *feed_points.BANDS_HZ[band_name])
    first = feed_points.draw_antenna(rng, family, band_name)
    device = feed_points.draw_device(rng, first.ratio, device_state)
    then = feed_points.seen_by_jumper(first, feed_points.hanging(rng))
    antenna = feed_points.spoil_antenna(rng, feed_points.weather(rng, first), antenna_state)
    hanging = feed_points.hanging(rng)
    through = curve(feed_points.as_read(rng, feed_points.seen_through(rng, device, antenna, hanging)))
    bypassed = curve(feed_points.as_read(rng, feed_points.seen_by_jumper(antenna, hanging)), first.ratio)
    since = bypass_findings.compare_with_commissioning(
        bypassed, curve(feed_points.as_read(rng, then), first.ratio), band
    )["change"]
    alone = bypass_findings.judge_bypass(through, bypassed, band)
    finding = bypass_findings.weigh_commissioning(alone, since)
    return alone, finding, since, bypass_findings.is_loss_hidden(bypassed, band)


@pytest.fixture(scope="module")
def table():
    """(device state, antenna state) -> count of (alone, finding, since, hidden)."""
    rng = np.random.default_rng(20261129)
    counted: dict[tuple[str, str], Counter] = {}
    for _ in range(DRAWS):
        for family in FAMILIES:
            for band in feed_points.BANDS_HZ:
                for antenna in ANTENNA_STATES:
                    for device in DEVICE_STATES:
                        came = bypass_once(rng, family, band, antenna, device)
                        counted.setdefault((device, antenna), Counter())[came] += 1
    return counted


def test_no_healthy_device_is_convicted(table):
    for (device, antenna), came in table.items():
        if device == "healthy":
            blamed = [each for each in came if "device_makes_it_worse" in each[:2]]
            assert blamed == [], antenna


def test_no_healthy_antenna_is_convicted(table):
    for (device, antenna), came in table.items():
        if antenna == "healthy":
            assert [each for each in came if each[2] == "changed"] == [], device


def test_a_gross_fault_of_the_device_is_never_called_no_change(table):
    """Loss that a matched antenna hides is flagged as hidden."""
    for (device, antenna), came in table.items():
        if device != "healthy":
            unsaid = {each: n for each, n in came.items() if each[1] == "device_changes_nothing"}
            hidden = {each: n for each, n in unsaid.items() if device == "lossy" and each[3]}
            assert unsaid == hidden, (device, antenna)


def found(device, antenna, came):
    _, finding, since, _ = came
    wanted = {
        "open": "device_makes_it_worse",
        "shorted": "device_makes_it_worse",
        "lossy": "better_through_device",
    }
    return finding == wanted.get(device) or (antenna != "healthy" and since == "changed")


def test_at_least_80_percent_of_gross_faults_are_found(table):
    """One fault at a time, and two at once; whatever is not found is "cannot tell"."""
    for faults in (1, 2):
        total = right = 0
        for (device, antenna), came in table.items():
            if (device != "healthy") + (antenna != "healthy") == faults:
                total += sum(came.values())
                right += sum(n for each, n in came.items() if found(device, antenna, each))
        assert right / total >= 0.80, (faults, right, total)


def test_most_healthy_pairs_change_nothing(table):
    came = table["healthy", "healthy"]
    plain = sum(n for each, n in came.items() if each[1] == "device_changes_nothing")
    assert plain / sum(came.values()) > 0.7
