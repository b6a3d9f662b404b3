"""The chance of a new build in words; the first sentence is the one that the group's issue asked for."""

from __future__ import annotations

import pytest

from measurements.pages.designs import chance_wording


@pytest.mark.parametrize(
    ("chance", "bands", "sentence"),
    [
        (0.9, ["80m", "40m"], "A build of yours would very likely (9 in 10) meet 20 dB on 80 and 40 m."),
        (0.8, ["6m"], "A build of yours would likely (8 in 10) meet 20 dB on 6 m."),
        (0.6, ["40m"], "A build of yours would more likely than not (6 in 10) meet 20 dB on 40 m."),
        (0.5, ["40m"], "A build of yours is as likely as not (5 in 10) to meet 20 dB on 40 m."),
        (0.3, ["40m"], "A build of yours would rather not (3 in 10) meet 20 dB on 40 m."),
        (0.2, ["40m"], "A build of yours is unlikely (2 in 10) to meet 20 dB on 40 m."),
        (0.01, ["40m"], "A build of yours is very unlikely (1 in 100) to meet 20 dB on 40 m."),
        (0.94, ["40m", "2m", "70cm"], "very likely (94 in 100) meet 20 dB on 40, 2 m and 70 cm."),
    ],
)
def test_a_chance_is_a_sentence(chance, bands, sentence):
    assert chance_wording.write_chance(chance, 20.0, bands).endswith(sentence)


def test_bands_of_one_chance_share_a_sentence_that_says_they_are_single():
    chances = {"80m": 0.9, "40m": 0.9, "20m": 0.4, "10m": None}
    evidence = [{"band": band, "chance": chance, "benchmark_db": 20.0} for band, chance in chances.items()]
    assert chance_wording.write_chances_by_band(evidence) == [
        "A build of yours would very likely (9 in 10) meet 20 dB on 80 and 40 m, each by itself.",
        "A build of yours would rather not (4 in 10) meet 20 dB on 20 m.",
    ]
