"""The ways a direction can go, on numbers made up to go them."""

import numpy as np
import pytest

from plasmawright.quality.expectations import Expectation, Kind, holds

# settings down, variants across: one rises by 3, one falls by 3, one peaks in the middle
VALUES = np.array([[1.0, 4.0, 1.0], [2.0, 3.0, 5.0], [4.0, 1.0, 2.0]])


@pytest.mark.parametrize(
    ("expectation", "held"),
    [
        (Expectation(kind=Kind.RISES, by=2.9), [True, False, False]),
        (Expectation(kind=Kind.RISES, by=3.1), [False, False, False]),
        (Expectation(kind=Kind.RISES, tolerance=3.0), [True, False, True]),
        (Expectation(kind=Kind.FALLS), [False, True, False]),
        (Expectation(kind=Kind.LEVEL, tolerance=3.0), [True, True, False]),
        (Expectation(kind=Kind.MOVES, by=3.5), [False, False, True]),
        (Expectation(kind=Kind.PEAKS_AT, at=(2,)), [False, False, True]),
        (Expectation(kind=Kind.PEAKS_AT, at=(2,), tolerance=1.0), [False, True, True]),
        (Expectation(kind=Kind.LIES_WITHIN, low=1.0, high=4.0), [True, True, False]),
    ],
)
def test_an_expectation_holds_for_the_variants_that_go_its_way(expectation: Expectation, held: list[bool]) -> None:
    assert holds(expectation, VALUES, VALUES).tolist() == held


def test_the_first_of_two_peaks_is_told() -> None:
    later = np.array([[0.0, 9.0, 0.0], [1.0, 2.0, 1.0], [2.0, 3.0, 2.0]])
    # the peaks of VALUES stand at places 3, 1, 2; those it is held against at 3, 1, 3
    assert holds(Expectation(kind=Kind.PEAKS_BEFORE), VALUES, later).tolist() == [False, False, True]


def test_falling_with_another_quantity_goes_by_its_order_and_not_by_the_settings() -> None:
    order = np.array([[3.0], [2.0], [1.0]])
    rising = VALUES[:, :1]
    assert holds(Expectation(kind=Kind.FALLS_WITH), rising, order).tolist() == [True]
    assert holds(Expectation(kind=Kind.FALLS_WITH), rising, -order).tolist() == [False]


def test_a_correlation_is_told_from_its_opposite() -> None:
    wanted = Expectation(kind=Kind.CORRELATES, by=0.9)
    assert holds(wanted, VALUES[:, :1], 2 * VALUES[:, :1] + 1).tolist() == [True]
    assert holds(wanted, VALUES[:, :1], -VALUES[:, :1]).tolist() == [False]
