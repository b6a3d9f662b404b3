"""`pairs` and `known_partner` against published tables and closed forms."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.loss import device_pairs, known_partner
from measurements.rf.request import LossCurve
from tests.rf.method_requests import STEADY, codes, flat, loss_request
from tests.rf.transformer_simulation import FREQ_HZ, ONE_WAY, good, pair, poor, swept, true_loss_db


def sums(**values):
    return {(name[0], name[1]): np.array([value]) for name, value in values.items()}


def only_s21(loss_db):
    """A one-way pair without S11."""
    sweep = flat([0, 0], [10 ** (-loss_db / 20), 0])
    return sweep.without(0, 0).without(0, 1).without(1, 1)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        # computed independently: lossy 4:1 models 2/4000, 5/2000, 8/1000 ohm, back to back in 50 ohm
        (
            {"ab": 0.760077, "ac": 1.120555, "bc": 1.421800},
            {"a": 0.229416, "b": 0.530661, "c": 0.891139},
        ),
        # L. Asbrink, 29 Jan 2013, Table 1, http://sm5bsz.com/lir/loss/144/insert.htm;
        # pairs 2-3, 2-4, 3-4 are the mean of both orders; solved D2 .0603 D3 .0287 D4 .0586 (a, b, c here)
        (
            {"ab": (0.0890 + 0.0891) / 2, "ac": (0.1192 + 0.1186) / 2, "bc": (0.0868 + 0.0878) / 2},
            {"a": 0.0603, "b": 0.0287, "c": 0.0586},
        ),
        # computed independently (IEEE Std 149 form, from memory): gains 5, 8, 12 dB at F = -41.99021 dB;
        # halves of the path belong to each side
        (
            {"ab": -28.99021 + 41.99021, "ac": -24.99021 + 41.99021, "bc": -21.99021 + 41.99021},
            {"a": 5.0, "b": 8.0, "c": 12.0},
        ),
    ],
)
def test_published_triples(given, expected):
    found = device_pairs.solve_pairs(sums(**given))
    for label, value in expected.items():
        assert found[label][0] == pytest.approx(value, abs=6e-5)


def test_published_differences_to_direct_readings():
    # same table: the devices read directly .0597 .0283 .0588; the solution is within 0.0007 dB of them
    found = device_pairs.solve_pairs(sums(ab=0.08905, ac=0.1189, bc=0.0873))
    assert np.allclose([found[k][0] for k in "abc"], [0.0597, 0.0283, 0.0588], atol=7e-4)


def test_mirrored_sums_come_nearer_to_the_true_insertion_loss():
    # computed independently: true IL .227179, .536791, .898631 where S21 alone gives .229416, .530661,
    # .891139
    def model(series, shunt):
        abcd = np.array([[1, series], [0, 1]]) @ np.array([[1, 0], [1 / shunt, 1]])
        return abcd @ np.diag([0.5, 2.0])

    def back_to_back(one, other):
        (a, b), (c, d) = one @ np.array([[other[1, 1], other[0, 1]], [other[1, 0], other[0, 0]]])
        whole = a + b / 50 + c * 50 + d  # Frickey 1994 with z1 = z2 = 50
        return flat(
            [(a + b / 50 - c * 50 - d) / whole, 2 / whole], [2 / whole, (-a + b / 50 - c * 50 + d) / whole]
        )

    models = {"a": model(2, 4000), "b": model(5, 2000), "c": model(8, 1000)}
    sweeps = {f"pair_{x}{y}": back_to_back(models[x], models[y]) for x, y in combinations("abc", 2)}
    plain = {role: sweep.without(0, 0).without(1, 1) for role, sweep in sweeps.items()}
    assert -20 * np.log10(abs(sweeps["pair_ab"].s[0, 1, 0])) == pytest.approx(0.760077, abs=1e-6)
    true_il = np.array([0.227179, 0.536791, 0.898631])
    errors = {}
    for kind, given in (("mirrored", sweeps), ("plain", plain)):
        curve = device_pairs.compute_loss(loss_request("pairs", 4, **given))
        found = np.array([curve.devices[label].loss_db[0] for label in "abc"])
        stated = np.array([curve.devices[label].uncertainty_db[0] for label in "abc"])
        errors[kind] = np.abs(found - true_il)
        assert np.all(errors[kind] <= stated)
        assert curve.residual_db is None
    assert np.allclose(errors["plain"], [0.002237, 0.006130, 0.007492], atol=2e-6)
    assert errors["mirrored"].max() < errors["plain"].max()


def test_the_weights_of_three_pairs():
    # closed form: a = (AB+AC-BC)/2, and u(a) = sqrt(3)/2 u(pair) for equal independent u
    weights = device_pairs.build_pair_solver([("a", "b"), ("a", "c"), ("b", "c")])
    assert np.allclose(weights[0], [0.5, 0.5, -0.5])
    assert np.allclose(np.sqrt(np.sum(weights**2, axis=1)), np.sqrt(3) / 2)


def test_more_pairs_leave_a_residual_and_say_when_they_disagree():
    losses = {"a": 0.2, "b": 0.4, "c": 0.6, "d": 0.3}
    good_set = {f"pair_{x}{y}": only_s21(losses[x] + losses[y]) for x, y in combinations("abcd", 2)}
    curve = device_pairs.compute_loss(loss_request("pairs", 4, **good_set))
    assert curve.residual_db == pytest.approx(0, abs=1e-12)
    for label, loss in losses.items():
        assert np.allclose(curve.devices[label].loss_db, loss)
    assert np.array_equal(curve.loss_db, curve.devices["a"].loss_db)
    # numpy's own least squares on the disturbed set, rows in the order of the roles
    disturbed = {**good_set, "pair_cd": only_s21(1.9)}
    matrix = [[float(k in pair) for k in "abcd"] for pair in combinations("abcd", 2)]
    read = [*[losses[x] + losses[y] for x, y in combinations("abcd", 2)][:-1], 1.9]
    solution, squares, *_ = np.linalg.lstsq(np.array(matrix), np.array(read), rcond=None)
    curve = device_pairs.compute_loss(loss_request("pairs", 4, **disturbed))
    assert np.allclose([curve.devices[k].loss_db[0] for k in "abcd"], solution)
    assert curve.residual_db == pytest.approx(np.sqrt(squares[0] / 6))
    assert "pairs_disagree" in codes(curve.flags)


@pytest.mark.parametrize(
    ("roles", "code", "field"),
    [
        (["pair_ab", "pair_ac"], "pairs.underdetermined", "pair_ab"),
        (["pair_ab", "pair_bc", "pair_cd", "pair_ad"], "pairs.underdetermined", "pair_ab"),  # an even ring
        (["pair_ab", "pair_ac", "pair_bc", "pair_de"], "pairs.underdetermined", "pair_ab"),
        ([], "pairs.underdetermined", "pair_ab"),
        (["pair_ab", "pair_ac", "pair_aa"], "pairs.role", "pair_aa"),
        (["pair_ab", "pair_ac", "pair_1c"], "pairs.role", "pair_1c"),
        (["pair_ab", "pair_ac", "pair_abc"], "pairs.role", "pair_abc"),
    ],
)
def test_sets_that_determine_nothing_are_refused(roles, code, field):
    with pytest.raises(BenchnightError) as refused:
        device_pairs.compute_loss(loss_request("pairs", 4, **{role: only_s21(0.5) for role in roles}))
    assert (refused.value.code, refused.value.field) == (code, field)


def test_a_pair_on_another_grid_is_named():
    sweeps = {role: only_s21(0.5) for role in ("pair_ab", "pair_ac")}
    other = flat([0, 0], [0.9, 0], freq_hz=(1e6, 29e6)).without(0, 0)
    with pytest.raises(BenchnightError) as refused:
        device_pairs.compute_loss(loss_request("pairs", 4, **sweeps, pair_bc=other))
    assert (refused.value.code, refused.value.field) == ("sweep.grid_differs", "pair_bc")


def test_a_known_partner_is_taken_off_within_the_mismatch_bound():
    mine, partner = poor(4), good(4)
    stored = LossCurve(FREQ_HZ, true_loss_db(partner), "stored", uncertainty_db=np.full(401, 0.02))
    sweep = swept(pair(mine, partner), unmeasured=ONE_WAY)
    curve = known_partner.compute_loss(loss_request("known_partner", 4, sweep=sweep, partner=stored))
    assert np.allclose(curve.loss_db, -20 * np.log10(np.abs(sweep.s[:, 1, 0])) - stored.loss_db)
    assert np.all(np.abs(curve.loss_db - true_loss_db(mine)) <= curve.uncertainty_db)
    assert curve.uncertainty_db.min() >= 0.02


def test_a_well_matched_partner_narrows_the_bound():
    # closed form: partner with 26 dB return loss (mismatch 0.0109 dB), own reflection at most sqrt(1 -
    # 10^(-0.05)); 20 log10(1 +/- |G1 G2|) of unknown phase has a standard deviation of its size over sqrt(2)
    mismatch_db = -10 * np.log10(1 - 10**-2.6)
    stored = LossCurve(np.array([1e6, 30e6]), np.full(2, 0.5), "stored", mismatch_db=np.full(2, mismatch_db))
    curve = known_partner.compute_loss(
        loss_request("known_partner", 4, sweep=only_s21(1.0), partner=stored, analyser=STEADY)
    )
    own = np.sqrt(1 - 10**-0.05)
    assert np.allclose(curve.loss_db, 0.5)
    assert np.allclose(curve.uncertainty_db, np.sqrt(2) * 8.686 * own * 10**-1.3, rtol=0.03)


def test_a_partner_is_needed_and_must_overlap():
    with pytest.raises(BenchnightError) as missing:
        known_partner.compute_loss(loss_request("known_partner", 4, sweep=only_s21(1.0)))
    assert (missing.value.code, missing.value.field) == ("insertion_loss.partner_missing", "partner")
    far = LossCurve(np.array([50e6, 54e6]), np.full(2, 0.5), "stored")
    with pytest.raises(BenchnightError) as apart:
        known_partner.compute_loss(loss_request("known_partner", 4, sweep=only_s21(1.0), partner=far))
    assert apart.value.code == "insertion_loss.partner_span"
    half = LossCurve(np.array([1e6, 2e6]), np.full(2, 0.5), "stored")
    curve = known_partner.compute_loss(loss_request("known_partner", 4, sweep=only_s21(1.0), partner=half))
    assert np.allclose(curve.loss_db[0], 0.5)
    assert np.isnan(curve.loss_db[1])


def test_an_order_that_matters_shows_in_the_published_pairs():
    # the same table: 13 .0374 and 31 .0528 differ by order, 23 and 32 do not; a reciprocal
    # pair cannot, so the disagreement must surface in the residual of a set that holds both orders.
    read = {"ab": 0.0890, "ba": 0.0891, "ac": 0.1192, "ca": 0.1186, "bc": 0.0868, "cb": 0.0878}
    curve = device_pairs.compute_loss(
        loss_request("pairs", 1, **{f"pair_{k}": only_s21(v) for k, v in read.items()})
    )
    assert np.allclose([curve.devices[k].loss_db[0] for k in "abc"], [0.0603, 0.0287, 0.0586], atol=6e-5)
    assert curve.residual_db < 0.0005
    odd = {**read, "ad": 0.0374, "da": 0.0528, "bd": 0.0890}
    curve = device_pairs.compute_loss(
        loss_request("pairs", 1, **{f"pair_{k}": only_s21(v) for k, v in odd.items()})
    )
    assert curve.residual_db > 0.002
