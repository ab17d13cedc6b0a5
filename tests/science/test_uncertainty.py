"""Draws: the sequence digit by digit against scipy's, shapes against scipy's, updates against closed forms."""

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy import stats

from plasmawright.errors import OutOfRange
from plasmawright.science.sobol import BITS, COUNT_MAX, DIMENSIONS_MAX, sobol
from plasmawright.science.uncertainty import Belief, Shape, conditioned, drawn, effective_count, quantiles

PINNED = [0.36818951566237956, 0.5267179956426844, 0.8681895156623796, 0.0267179956426844, 0.6181895156623796]
CHANCES = np.array([0.001, 0.05, 0.3, 0.5, 0.8, 0.95, 0.999])


def digits(points: np.ndarray) -> np.ndarray:
    return np.floor(points * 2.0**BITS).astype(np.uint64)


@pytest.mark.parametrize("seed", [0, 1, 2026])
def test_every_dimension_is_scipys_sequence_shifted(seed: int) -> None:
    """A digital shift is undone by the first point, which the unshifted sequence has at 0: all digits must agree."""
    ours = digits(sobol(count=1024, dimensions=DIMENSIONS_MAX, seed=seed))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        engine = stats.qmc.Sobol(d=DIMENSIONS_MAX, scramble=False, bits=BITS)
    theirs = digits(engine.random(1024))
    assert ((ours ^ ours[0]) == theirs).all()


def test_a_seed_means_the_same_numbers_for_ever() -> None:
    """Pinned on 2026-11-24; a change here changes every interval that was ever printed."""
    found = sobol(count=3, dimensions=2, seed=1)
    assert found.ravel()[:5].tolist() == PINNED


def test_seeds_differ_and_draws_prolong_each_other() -> None:
    assert not (sobol(count=8, dimensions=3, seed=1) == sobol(count=8, dimensions=3, seed=2)).any()
    assert (sobol(count=100, dimensions=3, seed=5)[:40] == sobol(count=40, dimensions=3, seed=5)).all()


def test_points_fill_every_interval_evenly() -> None:
    """Of 256 points each dimension holds exactly one in each 256th: what makes them better than dice; never 0 or 1."""
    points = sobol(count=256, dimensions=DIMENSIONS_MAX, seed=3)
    assert (np.sort(np.floor(points * 256).astype(int), axis=0) == np.arange(256)[:, None]).all()
    assert points.min() > 0
    assert points.max() < 1


@pytest.mark.parametrize(
    "asked", [{"dimensions": DIMENSIONS_MAX + 1}, {"dimensions": 0}, {"count": 0}, {"count": COUNT_MAX + 1}]
)
def test_more_than_the_sequence_holds_is_refused(asked: dict[str, int]) -> None:
    with pytest.raises(OutOfRange):
        sobol(**{"count": 4, "dimensions": 2, "seed": 1} | asked)


def test_normal_beliefs_are_scipys_truncated_normal() -> None:
    belief = Belief(centre=2.0, spread=0.7, shape=Shape.NORMAL, low=1.2, high=4.0)
    theirs = stats.truncnorm((1.2 - 2.0) / 0.7, (4.0 - 2.0) / 0.7, loc=2.0, scale=0.7)
    assert belief.at(CHANCES) == pytest.approx(theirs.ppf(CHANCES), rel=1e-9)


def test_lognormal_beliefs_have_their_centre_as_median_and_the_stated_relative_spread() -> None:
    """sd / mean of a log-normal of log-width w is sqrt(exp(w^2) - 1): here 0.6 / 2."""
    belief = Belief(centre=2.0, spread=0.6, shape=Shape.LOGNORMAL)
    width = np.sqrt(np.log1p(0.3**2))
    theirs = stats.lognorm(s=width, scale=2.0)
    assert belief.at(CHANCES) == pytest.approx(theirs.ppf(CHANCES), rel=1e-12)
    assert theirs.std() / theirs.mean() == pytest.approx(0.3, rel=1e-12)


def test_bounded_lognormal_beliefs_are_truncated_not_heaped_at_the_bound() -> None:
    belief = Belief(centre=2.0, spread=1.0, shape=Shape.LOGNORMAL, low=1.0, high=3.0)
    plain = stats.lognorm(s=np.sqrt(np.log1p(0.25)), scale=2.0)
    inside = plain.cdf(1.0) + CHANCES * (plain.cdf(3.0) - plain.cdf(1.0))
    assert belief.at(CHANCES) == pytest.approx(plain.ppf(inside), rel=1e-9)


def test_uniform_beliefs_are_scipys_uniform_of_the_same_standard_deviation() -> None:
    belief = Belief(centre=5.0, spread=1.0, shape=Shape.UNIFORM)
    theirs = stats.uniform(loc=5.0 - np.sqrt(3), scale=2 * np.sqrt(3))
    assert belief.at(CHANCES) == pytest.approx(theirs.ppf(CHANCES), rel=1e-12)
    assert theirs.std() == pytest.approx(1.0, rel=1e-12)


def test_a_fixed_belief_or_one_without_spread_never_moves() -> None:
    for shape in Shape:
        spread = 0.5 if shape is Shape.FIXED else 0.0
        assert (Belief(centre=3.0, spread=spread, shape=shape).at(CHANCES) == 3.0).all()


@settings(max_examples=200, deadline=None)
@given(
    centre=some.floats(0.1, 10),
    spread=some.floats(0.01, 5),
    reach=some.floats(0.01, 5),
    shape=some.sampled_from(Shape),
)
def test_no_belief_leaves_its_bounds(centre: float, spread: float, reach: float, shape: Shape) -> None:
    belief = Belief(
        centre=centre, spread=spread, shape=shape, low=centre - min(reach, 0.9 * centre), high=centre + reach
    )
    found = belief.at(np.concatenate([[2.0**-33], CHANCES, [1 - 2.0**-33]]))
    assert (np.diff(found) >= 0).all()
    assert found.min() >= belief.low - 1e-9
    assert found.max() <= belief.high + 1e-9


def test_draws_of_known_distributions_have_their_quantiles_and_no_correlation() -> None:
    """With 4096 even points the quantiles of a normal lie within a few ten-thousandths of a standard deviation."""
    beliefs = [
        Belief(centre=0.0, spread=1.0, shape=Shape.NORMAL),
        Belief(centre=1.0, spread=0.5, shape=Shape.LOGNORMAL),
    ]
    found = drawn(beliefs, count=4096, seed=1)
    assert quantiles(found[:, 0], np.ones(4096), (0.05, 0.5, 0.95)) == pytest.approx([-1.64485, 0.0, 1.64485], abs=3e-3)
    wanted = stats.lognorm(s=np.sqrt(np.log1p(0.25)), scale=1.0).ppf((0.05, 0.5, 0.95))
    assert quantiles(found[:, 1], np.ones(4096), (0.05, 0.5, 0.95)) == pytest.approx(wanted, rel=3e-3)
    assert abs(np.corrcoef(found[:, 0], found[:, 1])[0, 1]) < 0.01


def test_equal_weights_give_hazens_quantiles() -> None:
    values = np.random.default_rng(7).normal(size=37)
    chances = (0.05, 0.25, 0.5, 0.95)
    assert quantiles(values, np.ones(37), chances) == pytest.approx(np.quantile(values, chances, method="hazen"))


def test_a_weight_of_two_nearly_counts_twice_and_a_weight_of_none_not_at_all() -> None:
    values = np.sort(np.random.default_rng(8).normal(size=2000))
    weights = np.where(np.arange(2000) % 2, 2.0, 0.0)
    doubled = np.repeat(values[1::2], 2)
    assert quantiles(values, weights, (0.1, 0.5, 0.9)) == pytest.approx(
        quantiles(doubled, np.ones(2000), (0.1, 0.5, 0.9)),
        abs=0.01,  # about one gap between neighbours
    )
    assert effective_count(weights) == pytest.approx(1000)
    assert effective_count(np.ones(12)) == pytest.approx(12)


def test_the_scale_of_the_weights_does_not_matter() -> None:
    values, weights = np.arange(50.0), np.linspace(0.1, 1, 50)
    assert quantiles(values, weights, (0.3,)) == pytest.approx(quantiles(values, 1e6 * weights, (0.3,)), rel=1e-12)


def test_conditioning_two_normals_is_the_textbook_formula() -> None:
    """Observing x with noise: mean m_y + r s_y s_x (x - m_x) / (s_x^2 + n^2), variance s_y^2 (1 - r^2 s_x^2 / (...)).

    The draws' own moments stand in for the true ones, so that the agreement is to rounding, not to sampling.
    """
    dice = np.random.default_rng(1).multivariate_normal([1.0, 5.0], [[0.5, 0.3], [0.3, 1.0]], size=400)
    covariance = np.cov(dice.T)
    noise, observed = 0.4, 2.0
    mean, deviation = conditioned(
        dice[:, :1],
        observed=np.array([observed]),
        noise=np.array([noise]),
        seen=np.array([True]),
        others=dice[:, 1:],
    )
    gain = covariance[0, 1] / (covariance[0, 0] + noise**2)
    assert mean[0] == pytest.approx(dice[:, 1].mean() + gain * (observed - dice[:, 0].mean()), rel=1e-12)
    assert deviation[0] == pytest.approx(np.sqrt(covariance[1, 1] - gain * covariance[0, 1]), rel=1e-12)


def test_what_was_not_seen_teaches_nothing() -> None:
    dice = np.random.default_rng(2).normal(size=(300, 3))
    mean, deviation = conditioned(
        dice[:, :2],
        observed=np.array([9.0, np.nan]),
        noise=np.array([0.1, 0.1]),
        seen=np.array([False, False]),
        others=dice[:, 2:],
    )
    assert mean[0] == pytest.approx(dice[:, 2].mean())
    assert deviation[0] == pytest.approx(dice[:, 2].std(ddof=1))


def test_an_exact_sight_of_the_thing_itself_leaves_no_doubt() -> None:
    dice = np.random.default_rng(3).normal(size=(300, 1))
    mean, deviation = conditioned(
        dice, observed=np.array([0.7]), noise=np.array([1e-6]), seen=np.array([True]), others=dice
    )
    assert mean[0] == pytest.approx(0.7, abs=1e-9)
    assert deviation[0] < 1e-5
