"""The drill's arithmetic, against geometry and against a handbook's interval of a standard deviation."""

import math

import pytest

from plasmawright.errors import Refusal
from plasmawright.practice.drill import Pull, hand_of, stopped_mm, words_of


def test_water_left_in_a_cylinder_stands_as_high_as_its_volume_says() -> None:
    # 2 cm of water in a bore of 13 mm at 22 °C: 997.77 kg/m3 is the handbook density of water at 22 °C (from memory)
    left_g = math.pi / 4 * 1.3**2 * 2.0 * 0.99777
    got = stopped_mm(Pull(aimed_mm=3.0, added_g=left_g + 4.0, taken_g=4.0, inner_diameter_mm=13.0))
    assert got == pytest.approx(20.0, rel=2e-5)


def test_a_tenth_of_a_gram_is_under_a_millimetre() -> None:
    # what a bench scale of 0.1 g leaves open: 0.1 mL over 1.327 cm2 is 0.75 mm
    one = Pull(aimed_mm=3.0, added_g=5.0, taken_g=4.6, inner_diameter_mm=13.0)
    other = Pull(aimed_mm=3.0, added_g=5.0, taken_g=4.5, inner_diameter_mm=13.0)
    assert stopped_mm(other) - stopped_mm(one) == pytest.approx(0.755, abs=0.002)


def test_bias_and_spread_are_mean_and_standard_deviation_about_the_aim() -> None:
    hand = hand_of([3.0] * 4, [2.0, 3.0, 4.0, 5.0])
    assert hand.bias_mm == 0.5
    assert hand.spread_mm == pytest.approx(math.sqrt(5 / 3))  # 1.5² + 0.5² + 0.5² + 1.5² = 5, over n - 1 = 3
    assert hand.about_aim_mm == pytest.approx(math.sqrt(6 / 4))  # 1 + 0 + 1 + 4 = 6, over n


def test_the_interval_of_the_spread_is_a_handbooks() -> None:
    # Ten readings: chi-square with 9 degrees at 0.95 and 0.05 is 16.919 and 3.325 (any statistical table)
    off = [-1.0, 1.0] * 5
    hand = hand_of([3.0] * 10, [3.0 + one for one in off])
    assert hand.spread_low_mm == pytest.approx(math.sqrt(10 / 16.919), rel=1e-4)
    assert hand.spread_high_mm == pytest.approx(math.sqrt(10 / 3.325), rel=1e-4)


def test_a_hand_that_goes_too_near_the_red_is_told_so() -> None:
    assert "nearer the red" in words_of(hand_of([3.0] * 10, [2.0, 2.2, 1.8, 2.1, 1.9] * 2))
    assert "where you mean to" in words_of(hand_of([3.0] * 10, [2.5, 3.5] * 5))


@pytest.mark.parametrize(
    ("added_g", "taken_g", "field"),
    [(4.0, 5.0, "drill.taken_g"), (60.0, 1.0, "drill.taken_g"), (0.0, 0.0, "drill.added_g")],
)
def test_weights_that_cannot_be_are_refused(added_g: float, taken_g: float, field: str) -> None:
    with pytest.raises(Refusal) as refused:
        stopped_mm(Pull(aimed_mm=3.0, added_g=added_g, taken_g=taken_g, inner_diameter_mm=13.0))
    assert refused.value.field == field


def test_one_pull_says_nothing_of_a_spread() -> None:
    with pytest.raises(Refusal, match="two pulls"):
        hand_of([3.0], [3.1])
