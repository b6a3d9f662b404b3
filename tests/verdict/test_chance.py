"""The chance of a new build against brute force, Student's t and what must follow from its model."""

import numpy as np
import pytest
from scipy import stats

from measurements.verdict.band_verdict import judge_design
from measurements.verdict.chance_grid import PRIOR_CENTRE, build_chance_grid
from measurements.verdict.metric import LOSS, SWR
from measurements.verdict.usual_spread import _find_peak, estimate_usual_spread

USUAL = 2.0


def draw_chance_from_the_prior(figures_db, usual_spread, draws, rng, *, one_jig=False):
    """The same posterior by importance sampling: unknowns drawn from the prior, weighted by likelihood."""
    middle = rng.uniform(np.min(figures_db) - 8, np.max(figures_db) + 8, draws)
    spread = PRIOR_CENTRE * usual_spread * np.exp(0.45 * rng.standard_normal(draws))
    bad = rng.beta(1, 9, draws)
    wide = np.sqrt(spread**2 + 25)
    weight = np.ones(draws)
    for figure in figures_db:
        good = (1 - bad) * stats.norm.pdf(figure, middle, spread)
        weight *= good + bad * stats.norm.pdf(figure, middle - 15, wide)
    jig = 2.0 if one_jig else 0.0
    new = (1 - bad) * stats.norm.sf(20, middle, np.sqrt(spread**2 + jig))
    new += bad * stats.norm.sf(20, middle - 15, np.sqrt(wide**2 + jig))
    return float((weight * new).sum() / weight.sum())


@pytest.mark.parametrize("one_jig", [False, True])
@pytest.mark.parametrize(
    "figures_db",
    [[22.0, 23.5, 21.1], [19.0, 21.0, 20.3], [25.0, 26.0, 9.0], [17.0, 18.0, 16.2, 19.1, 17.7], [28.0] * 4],
)
def test_the_grid_agrees_with_draws_from_the_same_model(figures_db, one_jig):
    rng = np.random.default_rng(3)
    expected = draw_chance_from_the_prior(figures_db, USUAL, 300_000, rng, one_jig=one_jig)
    got = judge_design(figures_db, 20.0, range(len(figures_db)), usual_spread=USUAL, one_jig=one_jig)
    assert got.chance == pytest.approx(expected, abs=0.015)


@pytest.mark.parametrize("one_jig", [False, True])
def test_without_a_usual_spread_it_is_the_prediction_of_students_t(one_jig):
    """Reference: scipy's t distribution and numpy's mean and standard deviation."""
    figures_db = np.array([21.0, 24.0, 22.5, 20.2])
    scale = np.sqrt(figures_db.var(ddof=1) * (1 + 1 / 4) + (2.0 if one_jig else 0.0))
    expected = stats.t.cdf((figures_db.mean() - 20.0) / scale, df=3)
    assert judge_design(figures_db, 20.0, range(4), one_jig=one_jig).chance == pytest.approx(expected)


@pytest.mark.parametrize("usual_spread", [None, USUAL])
def test_equal_devices_of_one_person_count_as_one(usual_spread):
    one_each = judge_design([22.0, 23.5, 21.0], 20.0, "abc", usual_spread=usual_spread)
    three_of_one = judge_design([22.0, 22.0, 22.0, 23.5, 21.0], 20.0, "aaabc", usual_spread=usual_spread)
    assert three_of_one.chance == pytest.approx(one_each.chance)
    assert (three_of_one.devices, three_of_one.contributors) == (5, 3)


@pytest.mark.parametrize("usual_spread", [None, USUAL])
def test_three_devices_of_two_persons_are_too_few(usual_spread):
    got = judge_design([30.0] * 6, 20.0, "aaabbb", usual_spread=usual_spread)
    assert (got.verdict, got.chance) == ("not_enough_devices", None)


def test_one_jig_makes_less_certain_and_more_devices_do_not_help():
    figures_db = list(np.random.default_rng(1).normal(21.0, 0.5, 60))
    several = judge_design(figures_db, 20.0, range(60), usual_spread=0.6)
    one = judge_design(figures_db, 20.0, range(60), usual_spread=0.6, one_jig=True)
    assert several.verdict == "typically_meets"
    assert one.verdict == "mixed"


@pytest.mark.parametrize("metric", [LOSS, SWR])
@pytest.mark.parametrize("usual_spread", [None, USUAL])
def test_lower_is_better_for_loss_and_swr_alike(metric, usual_spread):
    """A metric of a tenth of the unit, turned round about the limit, gives the verdict of rejection."""
    rejection_db = np.array([23.0, 21.5, 24.0, 20.5])
    turned = 2.0 - (rejection_db - 20.0) / 10
    expected = judge_design(rejection_db, 20.0, range(4), usual_spread=usual_spread)
    got = judge_design(turned, 2.0, range(4), metric=metric, usual_spread=usual_spread)
    assert got.chance == pytest.approx(expected.chance, abs=0.003)
    assert (got.verdict, got.passing) == (expected.verdict, 4)


def test_a_chance_falls_as_the_benchmark_rises():
    figures_db = [22.0, 25.0, 23.0, 21.0, 24.0]
    chances = [judge_design(figures_db, b, range(5), usual_spread=USUAL).chance for b in range(10, 41)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.9 and chances[-1] < 0.02


def integrate_densely(figures_db, usual_spread, centre_db):
    """The same posterior on a dense grid of its own, the middle about `centre_db`."""
    reach = 6 * usual_spread / np.sqrt(len(figures_db))
    middle = centre_db + np.linspace(-reach, reach, 161)[:, None, None]
    deviation = np.linspace(-3, 3, 81)[None, :, None]
    spread = PRIOR_CENTRE * usual_spread * np.exp(0.45 * deviation)
    bad = (np.arange(60) + 0.5) / 60
    log_weight = stats.norm.logpdf(deviation) + stats.beta.logpdf(bad, 1, 9)
    log_weight = np.broadcast_to(log_weight, (161, 81, 60)).copy()
    wide = np.sqrt(spread**2 + 25)
    for figure in figures_db:
        good = stats.norm.pdf(figure, middle, spread)
        log_weight += np.log((1 - bad) * good + bad * stats.norm.pdf(figure, middle - 15, wide))
    weight = np.exp(log_weight - log_weight.max())
    new = (1 - bad) * stats.norm.sf(20, middle, spread) + bad * stats.norm.sf(20, middle - 15, wide)
    return float((weight * new).sum() / weight.sum())


@pytest.mark.parametrize("persons", [3, 10, 11, 40, 41, 150])
def test_the_grid_is_fine_enough_for_any_number_of_persons(persons):
    """Builds that scatter evenly about one spread above the benchmark, and every eighth of them bad."""
    figures_db = 22.0 + USUAL * stats.norm.ppf((np.arange(persons) + 0.5) / persons)
    figures_db[4::8] -= 15.0
    expected = integrate_densely(figures_db, USUAL, 22.0)
    got = judge_design(figures_db, 20.0, range(persons), usual_spread=USUAL).chance
    assert got == pytest.approx(expected, abs=0.015)


def test_a_spread_that_is_not_above_zero_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        build_chance_grid(0.0, 4)


def simulate_group(designs, persons, spread_db, bad, rng):
    found = []
    for own_spread in spread_db * np.exp(0.45 * rng.standard_normal(designs)):
        figures_db = rng.normal(rng.uniform(15, 35), own_spread, persons)
        figures_db -= (rng.random(persons) < bad) * rng.uniform(10, 20, persons)
        found.append([(figures_db, np.ones(persons))])
    return found


@pytest.mark.parametrize("bad", [0.0, 0.1])
@pytest.mark.parametrize("spread_db", [1.0, 2.5])
def test_the_usual_spread_of_a_group_is_found_also_with_bad_builds(spread_db, bad):
    rng = np.random.default_rng(8)
    found = [estimate_usual_spread(simulate_group(30, 4, spread_db, bad, rng)) for _ in range(4)]
    assert np.median(found) == pytest.approx(spread_db, rel=0.25)


def test_under_eight_designs_with_three_persons_there_is_no_usual_spread():
    rng = np.random.default_rng(8)
    few = simulate_group(7, 5, 2.0, 0.0, rng)
    assert estimate_usual_spread(few) is None
    assert estimate_usual_spread(few + simulate_group(5, 2, 2.0, 0.0, rng)) is None
    assert estimate_usual_spread(few + simulate_group(1, 3, 2.0, 0.0, rng)) is not None


LN_NODES = np.linspace(np.log(0.2), np.log(12.0), 36)  # where the support of spreads is computed


@pytest.mark.parametrize("peak", [-1.3, 0.0, 0.71, 1.955, 2.4])
def test_the_peak_of_a_parabola_is_found_between_the_nodes(peak):
    """Three points fix a parabola, so its peak is exact."""
    assert _find_peak(-((LN_NODES - peak) ** 2)) == pytest.approx(peak, abs=1e-9)


def test_a_peak_beyond_the_nodes_is_the_last_node():
    assert _find_peak(-((LN_NODES - 9.0) ** 2)) == pytest.approx(np.log(12.0))
    assert _find_peak(-((LN_NODES + 9.0) ** 2)) == pytest.approx(np.log(0.2))


def test_a_flat_support_has_no_peak_between_the_nodes():
    assert _find_peak(np.zeros(36)) in LN_NODES


def test_the_usual_spread_is_learned_from_designs_with_thousands_of_figures():
    """An unlikely spread of 2,000 figures is beyond what a float can hold beside the likeliest one."""
    rng = np.random.default_rng(3)
    designs = [[(rng.normal(25, 2.0, 2000), np.ones(2000))] for _ in range(8)]
    assert estimate_usual_spread(designs) == pytest.approx(2.0, rel=0.15)
