"""Reweighting draws: weights are kept, nothing is NaN, order does not matter, and sharp readings lose no coverage."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy import stats

from plasmawright.science.uncertainty import (
    Readings,
    Update,
    conditioned,
    effective_count,
    power_carried,
    quantiles,
    reweighted,
)

CHANCES = (0.05, 0.5, 0.95)


def readings(expected: np.ndarray, *, read: list[float], error: list[float]) -> Readings:
    return Readings(expected=expected, read=np.array(read), error=np.array(error))


@settings(max_examples=200, deadline=None)
@given(
    some.lists(
        some.tuples(some.floats(0, 1e3), some.one_of(some.floats(-1e6, 1e6), some.just(-np.inf))),
        min_size=2,
        max_size=30,
    ).filter(lambda rows: sum(weight for weight, _ in rows) > 1e-6)
)
def test_the_sum_of_the_weights_is_kept_and_none_is_negative_or_nan(rows: list[tuple[float, float]]) -> None:
    weights, likelihood = np.array(rows).T
    found = reweighted(weights, likelihood)
    assert np.isfinite(found).all()
    assert found.min() >= 0
    assert found.sum() == pytest.approx(weights.sum(), rel=1e-9)


def test_a_likelihood_is_felt_in_ratios_however_small_it_is() -> None:
    """Two draws whose likelihoods differ by a factor of 2, both far below what a float can hold."""
    found = reweighted(np.ones(2), np.array([-5000.0, -5000.0 - np.log(2)]))
    assert found == pytest.approx([4 / 3, 2 / 3])


def test_what_no_draw_could_give_changes_no_weight() -> None:
    weights = np.array([1.0, 2.0, 3.0])
    assert (reweighted(weights, np.full(3, -np.inf)) == weights).all()


def test_two_likelihoods_in_either_order_give_the_same() -> None:
    dice = np.random.default_rng(1)
    weights, one, other = dice.random(64), dice.normal(size=64), dice.normal(size=64)
    assert reweighted(reweighted(weights, one), other) == pytest.approx(
        reweighted(reweighted(weights, other), one), rel=1e-12
    )


@pytest.mark.parametrize("draws_min", [4.0, 32.0, 100.0])
def test_the_power_carried_leaves_just_the_draws_asked_for(draws_min: float) -> None:
    values = np.random.default_rng(2).normal(size=512)
    likelihood = -0.5 * ((values - 1.0) / 0.01) ** 2
    power = power_carried(np.ones(512), likelihood, draws_min=draws_min)
    assert 0 < power < 1
    assert effective_count(reweighted(np.ones(512), power * likelihood)) == pytest.approx(draws_min, rel=1e-3)


def test_a_mild_likelihood_is_carried_whole() -> None:
    assert power_carried(np.ones(10), np.linspace(0, 0.1, 10), draws_min=5) == 1.0


def test_an_infinite_error_changes_nothing() -> None:
    dice = np.random.default_rng(3)
    values, expected = np.exp(dice.normal(size=300)), dice.normal(size=(300, 1))
    update = Update.of(np.ones(300), readings(expected, read=[9.0], error=[np.inf]), draws_min=75)
    assert update.quantiles(values, CHANCES) == pytest.approx(quantiles(values, np.ones(300), CHANCES), rel=1e-12)
    assert effective_count(update.weights) == pytest.approx(300)


def test_a_reading_without_error_beside_one_that_says_nothing_counts_alone() -> None:
    dice = np.random.default_rng(4)
    expected = dice.normal(size=(400, 2))
    values = np.exp(expected[:, 0])
    alone = Update.of(np.ones(400), readings(expected[:, :1], read=[0.5], error=[0.02]), draws_min=100)
    beside = Update.of(np.ones(400), readings(expected, read=[0.5, 9.0], error=[0.02, np.inf]), draws_min=100)
    assert beside.quantiles(values, CHANCES) == pytest.approx(alone.quantiles(values, CHANCES), rel=1e-9)


@pytest.mark.parametrize("error", [1.0, 0.3, 0.1, 0.02])
def test_normal_draws_are_updated_as_the_closed_form_says(error: float) -> None:
    """x normal, y = x + noise of 0.5 read as 0.8: the log-normal exp(x) then has known quantiles, at every sharpness.

    Quantiles of 2048 draws near the middle are good to about a twentieth of a standard deviation.
    """
    chances = (np.arange(2048) + 0.5) / 2048
    draws = stats.norm.ppf(chances)
    update = Update.of(np.ones(2048), readings(draws[:, None], read=[0.8], error=[error]), draws_min=512)
    variance = 1 / (1 + 1 / error**2)
    middle, width = 0.8 * variance / error**2, np.sqrt(variance)
    wanted = middle + width * stats.norm.ppf(CHANCES)
    assert np.log(update.quantiles(np.exp(draws), CHANCES)) == pytest.approx(wanted, abs=0.1 * width)


def test_sharp_readings_keep_their_coverage_where_weights_alone_lose_it() -> None:
    """Four readings of six hidden quantities: of 300 truths 90 % intervals hold 270, standard deviation 5.

    Weights alone are left with a handful of 512 draws, and hold far fewer.
    """
    dice = np.random.default_rng(5)
    mixing = dice.normal(size=(6, 4))
    hidden = dice.normal(size=(812, 6))
    seen, wanted = hidden @ mixing, np.exp(0.3 * hidden.sum(axis=1))
    error = np.full(4, 0.3)
    inside = {1e-9: 0, 128.0: 0}
    for truth in range(512, 812):
        read = seen[truth] + dice.normal(size=4) * error
        found = Readings(expected=seen[:512], read=read, error=error)
        for draws_min in inside:
            low, _, high = Update.of(np.ones(512), found, draws_min=draws_min).quantiles(wanted[:512], CHANCES)
            inside[draws_min] += int(low <= wanted[truth] <= high)
    assert inside[128.0] >= 255
    assert inside[1e-9] < 200


@settings(max_examples=100, deadline=None)
@given(read=some.floats(-1e4, 1e4), error=some.floats(1e-3, 1e3), scale=some.floats(1e-6, 1e6))
def test_no_update_leaves_what_the_draws_span(read: float, error: float, scale: float) -> None:
    dice = np.random.default_rng(6)
    expected = dice.normal(size=(64, 1))
    values = scale * np.exp(expected[:, 0] + 0.1 * dice.normal(size=64))
    found = Update.of(np.ones(64), readings(expected, read=[read], error=[error]), draws_min=16).quantiles(
        values, CHANCES
    )
    assert np.isfinite(found).all()
    assert (np.diff(found) >= 0).all()
    assert found.min() >= values.min() * (1 - 1e-9)
    assert found.max() <= values.max() * (1 + 1e-9)


def test_a_quantity_that_is_nothing_in_every_draw_stays_nothing() -> None:
    expected = np.random.default_rng(7).normal(size=(64, 1))
    update = Update.of(np.ones(64), readings(expected, read=[3.0], error=[0.01]), draws_min=16)
    assert (update.quantiles(np.zeros(64), CHANCES) == 0).all()


def test_equal_weights_condition_as_no_weights_do_and_doubled_draws_as_weights_of_two() -> None:
    dice = np.random.default_rng(8)
    predicted, others = dice.normal(size=(40, 2)), dice.normal(size=(40, 1))
    asked = {"observed": np.array([0.3, -0.2]), "noise": np.array([0.2, 0.3]), "seen": np.array([True, True])}
    plain = conditioned(predicted, others=others, **asked)
    equal = conditioned(predicted, others=others, weights=np.full(40, 3.0), **asked)
    assert equal[0] == pytest.approx(plain[0], rel=1e-12)
    assert equal[1] == pytest.approx(plain[1], rel=1e-12)
    weights = np.where(np.arange(40) < 20, 2.0, 1.0)
    doubled = np.concatenate([np.arange(40), np.arange(20)])
    heavy = conditioned(predicted, others=others, weights=weights, **asked)
    twice = conditioned(predicted[doubled], others=others[doubled], **asked)
    # the corrections for the count of draws differ by about a hundredth
    assert heavy[0] == pytest.approx(twice[0], abs=0.01)
    assert heavy[1] == pytest.approx(twice[1], rel=0.02)
