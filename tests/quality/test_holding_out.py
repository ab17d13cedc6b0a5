"""Counting hits, constants, and foretelling one group from the others."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from plasmawright.parameters.papers import documents
from plasmawright.quality.check_model import binomial_band, constants_of
from plasmawright.quality.holding_out import held_out
from plasmawright.quality.published import Case, cases_from

CASES = {case.id: case for case in cases_from(documents())}


@pytest.mark.parametrize("count", [1, 5, 22, 100])
def test_the_band_of_hits_is_that_of_an_independent_binomial(count: int) -> None:
    # scipy's quantile function is the second opinion
    expected = (int(binom.ppf(0.025, count, 0.9)), int(binom.ppf(0.975, count, 0.9)))
    assert binomial_band(count, 0.9) == expected


def test_a_share_that_stayed_behind_counts_as_the_recovery_it_is() -> None:
    left, found = CASES["E026-bed"], CASES["E039-recovery"]
    constants = constants_of((left, found))
    # (1 - 0.145 + 0.920) / 2 recovered; the other side of it stays
    assert constants[found.id] == pytest.approx(0.8875)
    assert constants[left.id] == pytest.approx(0.1125)


def test_a_kind_with_one_number_has_no_constant() -> None:
    assert constants_of(tuple(CASES.values()))["E001-plasma"] is None


def test_a_constant_that_leaves_a_group_out_knows_nothing_of_it() -> None:
    one, other = CASES["E039-recovery"], CASES["E100-recovery"]
    fair = constants_of((one, other), without_own_group=True)
    assert fair[one.id] == pytest.approx(other.published)
    assert fair[other.id] == pytest.approx(one.published)


def _pair() -> tuple[Case, Case]:
    one = replace(CASES["E039-recovery"], published=0.9, published_spread=1e-4, agree_within=1e-4)
    return one, replace(one, id="other", group="elsewhere", published=0.6)


def test_a_group_that_shares_its_cause_with_another_is_foretold_by_it_and_not_by_itself() -> None:
    one, other = _pair()
    log_odds = np.linspace(-1.0, 3.0, 201)
    same = 1 / (1 + np.exp(-log_odds))
    apart = held_out((one, other), {one.id: same, other.id: same})
    # both are the same quantity without noise: each is foretold to be what the other measured
    assert apart[one.id][1] == pytest.approx(0.6, abs=1e-3)
    assert apart[other.id][1] == pytest.approx(0.9, abs=1e-3)


def test_a_group_that_shares_nothing_keeps_what_was_believed_before() -> None:
    one, other = _pair()
    rng = np.random.default_rng(5)
    mine, theirs = rng.normal(1.0, 0.5, 20_000), rng.normal(1.0, 0.5, 20_000)
    values = {one.id: 1 / (1 + np.exp(-mine)), other.id: 1 / (1 + np.exp(-theirs))}
    low, middle, high = held_out((one, other), values)[one.id]
    # median and quantiles of a normal of 1.0 and 0.5 on log-odds: 1 +- 1.645 x 0.5
    expected = 1 / (1 + np.exp(-np.array([0.1775, 1.0, 1.8225])))
    assert [low, middle, high] == pytest.approx(expected, abs=0.01)
