"""Band rows: in order, never overlapping, and with the edges that were published."""

from __future__ import annotations

import itertools

import pytest

from tests.fixtures_data import reference_rows

HF = ("160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m")
ALL = ("2200m", "630m", *HF, "6m")
FOREVER = "9999-12-31"


def on(region: int, day: str) -> dict[str, tuple[float, float]]:
    """Band -> edges in kHz, of one region on one day."""
    return {
        row["band"]: (row["start_hz"] / 1e3, row["stop_hz"] / 1e3)
        for row in reference_rows.rows("bands")
        if row["region"] == region and row["valid_from"] <= day <= (row["valid_to"] or FOREVER)
    }


@pytest.mark.parametrize("region", [1, 2, 3])
def test_every_band_of_every_region_is_there_today(region: int) -> None:
    assert set(on(region, "2026-06-01")) == set(ALL)


def test_edges_and_days_are_in_order() -> None:
    for row in reference_rows.rows("bands"):
        assert 0 < row["start_hz"] < row["stop_hz"]
        assert row["valid_from"] < (row["valid_to"] or FOREVER)


def test_no_two_rows_of_a_region_overlap_on_one_day() -> None:
    pairs = 0
    for first, second in itertools.combinations(reference_rows.rows("bands"), 2):
        if first["region"] != second["region"]:
            continue
        pairs += 1
        days = max(first["valid_from"], second["valid_from"]) <= min(
            first["valid_to"] or FOREVER, second["valid_to"] or FOREVER
        )
        hertz = max(first["start_hz"], second["start_hz"]) < min(first["stop_hz"], second["stop_hz"])
        assert not (days and hertz), (first, second)
    assert pairs > 200


@pytest.mark.parametrize(
    ("band", "region_1", "region_2", "region_3"),
    [
        # IARU Region 1, http://www.iaru-r1.org/wiki/LF-MF
        ("2200m", (135.7, 137.8), (135.7, 137.8), (135.7, 137.8)),
        # From memory.
        ("630m", (472, 479), (472, 479), (472, 479)),
        # IARU Region 1 page on 160 m; 47 CFR 97.301, second-hand.
        ("160m", (1810, 1850), (1800, 2000), (1800, 2000)),
        # https://iaru-r1.org/wiki/HF ; Region 2 is two allocations that meet at 3750 kHz.
        ("80m", (3500, 3800), (3500, 4000), (3500, 3900)),
        # ITU Radio Regulations, Article 5, as revised by WRC-15 (second-hand)
        ("60m", (5351.5, 5366.5), (5351.5, 5366.5), (5351.5, 5366.5)),
        # IARU Region 1 spectrum page; 47 CFR 97.301, second-hand; Region 3 from memory.
        ("40m", (7000, 7200), (7000, 7300), (7000, 7200)),
        # 47 CFR 97.301, second-hand, and band lists.
        ("30m", (10100, 10150), (10100, 10150), (10100, 10150)),
        ("20m", (14000, 14350), (14000, 14350), (14000, 14350)),
        ("17m", (18068, 18168), (18068, 18168), (18068, 18168)),
        ("15m", (21000, 21450), (21000, 21450), (21000, 21450)),
        ("12m", (24890, 24990), (24890, 24990), (24890, 24990)),
        ("10m", (28000, 29700), (28000, 29700), (28000, 29700)),
        # IARU on WRC-19; 47 CFR 97.301 (2021).
        ("6m", (50000, 52000), (50000, 54000), (50000, 54000)),
    ],
)
def test_published_edges_in_khz(band: str, region_1: tuple, region_2: tuple, region_3: tuple) -> None:
    assert [on(region, "2026-06-01")[band] for region in (1, 2, 3)] == [region_1, region_2, region_3]


def test_60_m_begins_on_1_january_2017() -> None:
    # ITU Radio Regulations, Article 5, as revised by WRC-15 (second-hand)
    for region in (1, 2, 3):
        assert "60m" not in on(region, "2016-12-31")
        assert "60m" in on(region, "2017-01-01")


def test_40_m_changed_on_29_march_2009() -> None:
    # IARU Region 1 spectrum page for the day in Region 1; Region 3 from memory.
    assert "40m" not in on(1, "2009-03-28")
    assert on(1, "2009-03-29")["40m"] == (7000, 7200)
    assert on(3, "2009-03-28")["40m"] == (7000, 7100)
    assert on(3, "2009-03-29")["40m"] == (7000, 7200)


def test_the_national_change_of_13_february_2026_is_told_in_region_2() -> None:
    # ARRL Bulletin ARLB002 (2026), FCC 25-60
    note = reference_rows.one("bands", region=2, band="60m")["note"]
    for told in ("13 February 2026", "5332", "5348", "5373", "5405", "100 W ERP", "9.15 W ERP"):
        assert told in note


def test_power_limit_of_60_m_agrees_with_itself() -> None:
    # 15 W EIRP is 9.15 W ERP: a half-wave dipole has 1.64 times the isotropic gain (textbook figure)
    assert pytest.approx(9.15, abs=0.005) == 15 / 1.64
    assert "15 W EIRP" in reference_rows.one("bands", region=2, band="60m")["note"]


def test_only_these_bands_lie_outside_the_usual_sweep_of_1_to_30_mhz() -> None:
    for region in (1, 2, 3):
        inside = {
            name for name, (start, stop) in on(region, "2026-06-01").items() if start >= 1e3 and stop <= 30e3
        }
        assert inside == set(HF)
