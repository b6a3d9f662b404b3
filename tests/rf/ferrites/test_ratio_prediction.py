"""Prediction of ratio devices: 80 % intervals hold about 80 %, and what the tables do not reach is refused
in words.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.bands import Band
from measurements.rf.ferrites import learned_windings, ratio_prediction
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.ratio_windings import RatioWinding
from tests.rf.ferrites import invented_ratio_devices as invented
from tests.rf.mix_tables import MIXES, columns

TABLES = {mix: Permeability(*columns(mix)) for mix in MIXES}
PRIOR = learned_windings.build_prior_windings(TABLES)
BIG_MM, SMALL_MM = (61.0, 35.55, 12.7), (35.55, 23.0, 12.7)
BANDS = (
    Band("80m", 3.5e6, 4.0e6),
    Band("40m", 7.0e6, 7.3e6),
    Band("20m", 14e6, 14.35e6),
    Band("10m", 28e6, 29.7e6),
)


def wound(**changes) -> RatioWinding:
    usual = {
        "principle": "voltage",
        "ratio": Fraction(49),
        "mix": "43",
        "size_mm": BIG_MM,
        "stacked": 1,
        "near_turns": 2,
        "style": "single",
        "wire_mm": 1.1,
    }
    return RatioWinding(**(usual | changes))


def count_held(seed: int, devices: int) -> np.ndarray:
    """(3,): held loss figures, held SWR figures, all figures of each kind."""
    rng = np.random.default_rng(seed)
    step = int(rng.choice([2, 3, 7, 8]))
    near = int(rng.integers(2, 5)) if step > 3 else int(rng.integers(4, 9))
    made = wound(
        ratio=Fraction(step**2), mix=str(rng.choice(["43", "31", "61"])),
        size_mm=BIG_MM if rng.uniform() < 0.5 else SMALL_MM, stacked=int(rng.integers(1, 3)), near_turns=near,
        compensation_f=float(rng.choice([0, 100e-12])),
    )  # fmt: skip
    bands = [band for band in BANDS if band.stop_hz < made.lumped_to_hz]
    predicted = ratio_prediction.predict_bands(PRIOR, TABLES[made.mix], made, bands)
    held = np.zeros(3)
    for _ in range(devices):
        device = invented.draw_separate_windings(
            rng, made.mix, made.size_mm, made.stacked, near, step * near, 1.1, made.compensation_f
        )
        for band, said in zip(bands, predicted, strict=True):
            loss_db, swr = device.measure(np.linspace(band.start_hz, band.stop_hz, 5), step**2 * 50).max(
                axis=0
            )
            held += (
                said.loss_db.low <= loss_db <= said.loss_db.high,
                said.swr.low <= swr <= said.swr.high,
                1,
            )
    return held


def test_intervals_hold_75_to_85_percent_of_simulated_devices():
    held = sum(count_held(seed, 12) for seed in range(30))
    loss, swr = held[:2] / held[2]
    print(f"loss {loss:.3f}, SWR {swr:.3f} of {held[2]:.0f} figures each")
    assert 0.75 <= loss <= 0.85
    assert 0.75 <= swr <= 0.85


def test_a_stack_has_the_loss_of_more_core():
    one, two = (
        ratio_prediction.predict_bands(PRIOR, TABLES["43"], wound(stacked=n), BANDS[:1])[0] for n in (1, 2)
    )
    assert two.dissipative_db.median == pytest.approx(one.dissipative_db.median / 2, rel=0.15)


def test_what_the_table_does_not_cover_has_no_figure():
    low = Band("630m", 0.472e6, 0.479e6)
    (said,) = ratio_prediction.predict_bands(PRIOR, TABLES["61"], wound(mix="61"), [low])
    assert said.loss_db is None and said.swr is None and said.chance is None
    assert "from 1 to 101 MHz only" in said.why_not


def test_wire_too_long_for_a_lumped_circuit_has_no_figure():
    (said,) = ratio_prediction.predict_bands(PRIOR, TABLES["43"], wound(near_turns=6), BANDS[3:])
    assert said.loss_db is None and "sixth of the wavelength" in said.why_not


def test_the_heat_is_of_100_watt_at_small_signals():
    (said,) = ratio_prediction.predict_bands(PRIOR, TABLES["43"], wound(), BANDS[:1])
    # 1 dB of 100 W is 20.6 W (definition of the decibel)
    assert said.heat_w.median == pytest.approx(100 * (1 - 10 ** (-said.dissipative_db.median / 10)), rel=0.01)


def test_wires_side_by_side_only_where_they_give_the_ratio():
    assert wound(ratio=Fraction(4), style="bifilar", near_turns=8).filar == 2
    assert wound(ratio=Fraction(9), style="trifilar", near_turns=6).filar == 3
    assert wound(ratio=Fraction(49), style="bifilar").filar == 0


def test_free_ratios_take_the_nearest_whole_turns_and_say_the_ratio_they_give():
    made = wound(ratio=Fraction(50), near_turns=2)
    assert (made.far_turns, made.wound_ratio) == (14, 49.0)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"ratio": Fraction(1)}, "ratio"),
        ({"near_turns": 0}, "turns"),
        ({"principle": "current"}, "ratio"),
        ({"principle": "current", "ratio": Fraction(4), "style": "single"}, "style"),
        ({"style": "coax"}, "style"),
    ],
)
def test_what_cannot_be_wound_is_refused_with_its_field(changes, field):
    with pytest.raises(BenchnightError) as caught:
        wound(**changes)
    assert caught.value.field == field


def test_coax_of_50_ohm_gives_a_4_to_1_current_balun_a_worse_match_than_a_100_ohm_pair():
    """Lines want sqrt(50 x 200) = 100 ohm (Guanella; from memory)."""
    made = {"principle": "current", "ratio": Fraction(4), "mix": "31", "near_turns": 10}
    coax, pair = (
        ratio_prediction.predict_bands(PRIOR, TABLES["31"], wound(**made, style=style), BANDS[3:])[0]
        for style in ("coax", "bifilar")
    )
    assert coax.swr.low > pair.swr.high
