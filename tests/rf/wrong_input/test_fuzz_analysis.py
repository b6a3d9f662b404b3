"""Any kind, any method, any ports, any columns missing: a result that is JSON, or a BenchnightError."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.analysis import KINDS, Request, analyse
from measurements.rf.loss.insertion_loss import LOSS_METHODS
from measurements.rf.request import LossCurve
from measurements.rf.sweeps.sweep import Sweep
from tests.fuzzing import try_cases
from tests.rf import benches

ROLES = (
    *("sweep", "sweep_reversed", "jig_through", "jig_open", "jig_short", "far_open", "far_short", "far_load"),
    *("pair_ab", "pair_ac", "pair_bc", "pair_ad", "sweep_12", "sweep_13", "sweep_23", "sweep_bypassed"),
)
METHODS = (None, *LOSS_METHODS, "y21", "s21", "s11", "nonsense")
FREQ_HZ = np.linspace(1e6, 30e6, 41)


def write_numbers(kind: str, points: int, ports: int, rng: np.random.Generator) -> np.ndarray:
    shape = points, ports, ports
    free = rng.normal(size=shape) + 1j * rng.normal(size=shape)
    if kind == "noise":
        return 0.3 * free
    if kind == "huge":
        return 1e6 * free
    if kind == "tiny":
        return 1e-14 * free
    constants = {"zero": 0.0, "one": 1.0, "minus one": -1.0, "half": 0.5}
    return np.full(shape, constants.get(kind, 0.0), complex) + (np.eye(ports) if kind == "identity" else 0)


NUMBERS = ("noise", "huge", "tiny", "zero", "one", "minus one", "half", "identity")


@st.composite
def sweeps(draw: st.DrawFn) -> Sweep:
    ports = draw(st.integers(1, 4))
    freq_hz = draw(
        st.sampled_from([FREQ_HZ, FREQ_HZ[:1], FREQ_HZ[:2], FREQ_HZ[10:30], np.array([0.0, 30e6])])
    )
    rng = np.random.default_rng(draw(st.integers(0, 2**16)))
    s = write_numbers(draw(st.sampled_from(NUMBERS)), freq_hz.size, ports, rng)
    measured = np.array(draw(st.lists(st.booleans(), min_size=ports**2, max_size=ports**2))).reshape(
        ports, ports
    )
    return Sweep(
        freq_hz,
        np.abs(s) if (magnitude_only := draw(st.booleans())) else s,
        np.full(ports, draw(st.sampled_from([50.0, 75.0]))),
        measured,
        source=draw(st.sampled_from(["touchstone", "csv", "turned"])),
        magnitude_only=magnitude_only,
    )


def test_three_ports_between_two_are_refused_and_say_so():
    three = Sweep(FREQ_HZ, np.full((41, 3, 3), 0.3 + 0j), np.full(3, 50.0), np.ones((3, 3), bool))
    for kind in ("common_mode", "insertion_loss"):
        with pytest.raises(BenchnightError, match="3 ports") as refused:
            analyse(Request(kind, sweeps={"sweep": three}))
        assert (refused.value.code, refused.value.field) == ("sweep.ports", "sweep")


def test_one_port_of_an_antenna_filed_as_common_mode_is_answered():
    """It asked for S21 of a one-port (IndexError, 500)."""
    reflection = 0.35 * np.exp(1j * np.linspace(0, 9, 41))
    check(
        Request("common_mode", sweeps={"sweep": benches.one_port(FREQ_HZ, reflection)}, bands=benches.BANDS)
    )
    flat = analyse(
        Request("common_mode", sweeps={"sweep": benches.one_port(FREQ_HZ, np.full(41, 0.1 + 0.1j))})
    )
    assert "looks_like_antenna" in benches.codes(flat.result)


def check(request: Request) -> None:
    try:
        found = analyse(request)
    except BenchnightError as refused:
        assert refused.code and str(refused)
        return
    json.dumps(found.result, allow_nan=False)


@pytest.mark.fuzz
@try_cases(4000)
@given(
    st.sampled_from(sorted(KINDS)),
    st.sampled_from(METHODS),
    st.dictionaries(st.sampled_from(ROLES), sweeps(), max_size=6),
    st.sampled_from([Fraction(1), Fraction(4), Fraction(1, 4), Fraction(49), Fraction(9, 4)]),
    st.sampled_from([None, 0.1, 200.0, 1e5, float("nan"), -1.0]),
    st.booleans(),
)
def test_any_request_is_answered_or_refused(kind, method, files, ratio, ohm, partner):
    loss = LossCurve(FREQ_HZ, np.full(41, 0.3), "stored") if partner else None
    check(
        Request(kind, method, ratio, files, load_ohm=ohm, series_ohm=ohm, bands=benches.BANDS, partner=loss)
    )


@pytest.mark.parametrize("kind", sorted(KINDS))
@pytest.mark.parametrize("ports", [1, 2, 3, 4])
@pytest.mark.parametrize("numbers", ["noise", "half"])
def test_every_kind_ports_and_missing_column(kind, ports, numbers):
    """Systematic beside the random one: the usual roles of every kind, each column missing in turn."""
    rng = np.random.default_rng(ports)
    full = np.ones((ports, ports), bool)
    masks = [full, ~full]
    for i, j in np.argwhere(full):
        lacking = full.copy()
        lacking[i, j] = False
        masks += [lacking, ~lacking]
    methods = [None, *LOSS_METHODS] if kind == "insertion_loss" else [None]
    for mask in masks:
        files = {
            role: Sweep(
                FREQ_HZ, write_numbers(numbers, FREQ_HZ.size, ports, rng), np.full(ports, 50.0), mask.copy()
            )
            for role in ROLES
            if role != "sweep_reversed"
        }
        for method in methods:
            check(Request(kind, method, Fraction(4), files, load_ohm=200.0, bands=benches.BANDS))
