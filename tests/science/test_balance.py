"""Balance of tubes in a rotor, against brute force, number theory and worked examples."""

import math
from itertools import combinations, permutations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as some

from plasmawright.errors import OutOfRange
from plasmawright.science.arrangement import best_arrangement
from plasmawright.science.balance import (
    balances_alone,
    counterweights,
    direction,
    prime_divisors,
    unopposed,
    vector_sum_kg,
)


def span(low: int, high: int) -> set[int]:
    return set(range(low, high + 1))


ALLOWED = {
    "C014": (4, {0, 2, 4}),
    "C017": (7, {0, 7}),
    "C018": (8, {0, 2, 4, 6, 8}),
    "C019": (9, {0, 3, 6, 9}),
    "C020": (10, {0, 2, 4, 5, 6, 8, 10}),
    "C021": (12, {0, 12} | span(2, 10)),
    "C022": (15, {0, 3, 5, 6, 9, 10, 12, 15}),
    "C023": (16, {0, 2, 4, 6, 8, 10, 12, 14, 16}),
    "C026": (24, {0, 24} | span(2, 22)),
    "C027": (30, {0, 30} | span(2, 28)),
    "C028": (36, {0, 36} | span(2, 34)),
}
"""Worked examples C014 to C028: tube counts that balance alone; source: the rule of Sivek and of Lam and Leung."""


@pytest.mark.parametrize("row", ALLOWED)
def test_the_counts_that_balance_meet_the_worked_examples(row: str) -> None:
    places, allowed = ALLOWED[row]
    assert {tubes for tubes in range(places + 1) if balances_alone(places=places, tubes=tubes)} == allowed


@pytest.mark.parametrize("places", range(1, 17))
def test_the_rule_agrees_with_trying_every_load(places: int) -> None:
    """Subset by subset: the smallest sum that is not zero is far above 1e-9 for up to 16 places."""
    found = set()
    for mask in range(2**places):
        held = [place for place in range(places) if mask >> place & 1]
        if abs(sum(direction(place, places) for place in held)) < 1e-9:
            found.add(len(held))
    assert found == {tubes for tubes in range(places + 1) if balances_alone(places=places, tubes=tubes)}


def test_neighbours_in_a_rotor_of_twelve_leave_what_geometry_says() -> None:
    """Row C030: two unit vectors 30 degrees apart sum to 2 cos 15 degrees."""
    total = vector_sum_kg(places=12, occupied=(0, 1), masses_kg=(1, 1))
    assert abs(total) == pytest.approx(2 * math.cos(math.radians(15)), abs=1e-12)
    assert abs(total) == pytest.approx(1.93185, abs=1e-4)


def test_three_neighbours_in_a_rotor_of_six_leave_two() -> None:
    """Row C031: 1 + w + w^2 of the sixth root is 2w."""
    assert abs(vector_sum_kg(places=6, occupied=(0, 1, 2), masses_kg=(1, 1, 1))) == pytest.approx(2.0, abs=1e-9)


def test_a_triangle_and_a_pair_balance_five_tubes_in_twelve_places() -> None:
    assert vector_sum_kg(places=12, occupied=(0, 4, 8, 1, 7), masses_kg=(1,) * 5) == 0


@pytest.mark.parametrize("places", range(1, 73))
def test_every_count_that_can_balance_is_given_places_that_do(places: int) -> None:
    """The rule only says that places exist; up to the largest rotor allowed they must also be found."""
    for tubes in range(1, places + 1):
        if balances_alone(places=places, tubes=tubes):
            found = best_arrangement(places=places, masses_kg=(1.0,) * tubes)
            assert len(set(found.occupied)) == tubes
            assert abs(sum(direction(place, places) for place in found.occupied)) < 1e-9


@pytest.mark.parametrize("places", range(2, 37, 2))
def test_an_even_count_in_an_even_rotor_stands_in_opposite_pairs(places: int) -> None:
    """What every swing-out takes; a triangle is chosen only where no pairs can do."""
    for tubes in range(2, places + 1, 2):
        found = best_arrangement(places=places, masses_kg=(1.0,) * tubes)
        assert unopposed(places=places, occupied=found.occupied) == ()


def test_a_load_of_three_is_told_to_have_no_partners() -> None:
    assert unopposed(places=12, occupied=(0, 4, 8)) == (0, 4, 8)
    assert unopposed(places=9, occupied=(0, 3, 6)) == (0, 3, 6)  # an odd rotor has no opposite places at all
    assert unopposed(places=6, occupied=(0, 3, 1)) == (1,)


@pytest.mark.parametrize("places", range(1, 15))
def test_no_load_of_equal_tubes_is_better_than_the_one_found(places: int) -> None:
    """Every subset is tried; 1e-9 is rounding of a sum of at most 14 unit vectors with room to spare."""
    for tubes in range(1, places + 1):
        least = min(abs(sum(direction(place, places) for place in held)) for held in combinations(range(places), tubes))
        found = best_arrangement(places=places, masses_kg=(1.0,) * tubes)
        assert found.proven
        assert found.residual_kg == pytest.approx(least, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(places=some.integers(2, 7), data=some.data())
def test_no_load_of_unequal_tubes_is_better_than_the_one_found(places: int, data: some.DataObject) -> None:
    """Every order of places is tried; a few masses repeat, so that equal tubes among unequal ones are met too."""
    mass = some.sampled_from((0.5, 9.8, 10.0, 10.1, 19.7))
    masses = data.draw(some.lists(mass, min_size=1, max_size=places))
    least = min(
        abs(sum(mass * direction(place, places) for place, mass in zip(held, masses, strict=True)))
        for held in permutations(range(places), len(masses))
    )
    found = best_arrangement(places=places, masses_kg=masses)
    assert found.proven
    assert found.residual_kg == pytest.approx(least, abs=1e-9)


def test_eight_unequal_tubes_in_eight_places_are_as_good_as_trying_every_order() -> None:
    masses = (19.8, 19.1, 20.2, 18.7, 21.0, 19.9, 20.6, 19.3)
    vectors = [direction(place, 8) for place in range(8)]
    least = min(
        abs(masses[0] + sum(mass * vectors[place] for mass, place in zip(masses[1:], held, strict=True)))
        for held in permutations(range(1, 8))
    )
    assert best_arrangement(places=8, masses_kg=masses).residual_kg == pytest.approx(least, abs=1e-9)


loads = some.integers(2, 24).flatmap(
    lambda places: some.tuples(
        some.just(places),
        some.lists(some.integers(0, places - 1), min_size=1, max_size=min(places, 8), unique=True).flatmap(
            lambda held: some.tuples(
                some.just(held), some.lists(some.floats(9.8, 60), min_size=len(held), max_size=len(held))
            )
        ),
    )
)


@given(load=loads, turn=some.integers(0, 100))
def test_turning_the_rotor_changes_no_imbalance(load: tuple[int, tuple[list[int], list[float]]], turn: int) -> None:
    places, (held, masses) = load
    turned = [(place + turn) % places for place in held]
    still = abs(vector_sum_kg(places=places, occupied=held, masses_kg=masses))
    assert abs(vector_sum_kg(places=places, occupied=turned, masses_kg=masses)) == pytest.approx(still, abs=1e-9)


@settings(max_examples=150, deadline=None)
@given(load=loads, empty_kg=some.sampled_from((0.0, 2.0, 9.8)))
def test_counterweights_bring_any_load_to_zero(
    load: tuple[int, tuple[list[int], list[float]]], empty_kg: float
) -> None:
    """Whatever stands where: the tubes, the water, and the empty tubes that hold the water."""
    places, (held, masses) = load
    added = counterweights(places=places, occupied=held, masses_kg=masses, empty_mass_kg=empty_kg)
    total = sum(mass * direction(place, places) for place, mass in zip(held, masses, strict=True))
    for weight in added:
        assert weight.mass_kg >= 0
        assert weight.in_empty_place == (weight.place not in held)
        total += (weight.mass_kg + empty_kg * weight.in_empty_place) * direction(weight.place, places)
    assert abs(total) < 1e-9
    assert len({weight.place for weight in added}) == len(added)


@settings(max_examples=60, deadline=None)
@given(load=loads)
def test_two_counterweights_are_enough_when_tubes_weigh_nothing(
    load: tuple[int, tuple[list[int], list[float]]],
) -> None:
    """Any vector lies between two neighbouring places."""
    places, (held, masses) = load
    assert len(counterweights(places=places, occupied=held, masses_kg=masses, empty_mass_kg=0.0)) <= 2


def test_one_tube_of_four_asks_for_its_own_mass_opposite() -> None:
    (weight,) = counterweights(places=4, occupied=(0,), masses_kg=(0.02,), empty_mass_kg=0.0098)
    assert (weight.place, weight.in_empty_place) == (2, True)
    assert weight.mass_kg == pytest.approx(0.0102, abs=1e-12)  # 20 g less the empty tube's 9.8 g


def test_a_light_tube_of_a_pair_is_helped_where_it_stands() -> None:
    """One weight of the 0.4 g that is missing is both the fewest and the lightest answer."""
    (weight,) = counterweights(places=4, occupied=(0, 2), masses_kg=(0.0204, 0.02), empty_mass_kg=0.0098)
    assert (weight.place, weight.in_empty_place) == (2, False)
    assert weight.mass_kg == pytest.approx(0.0004, abs=1e-12)


def test_a_balanced_load_asks_for_nothing() -> None:
    assert counterweights(places=6, occupied=(0, 2, 4), masses_kg=(1, 1, 1), empty_mass_kg=0.0) == ()


@given(places=some.integers(37, 72), data=some.data())
@settings(max_examples=10, deadline=None)
def test_the_same_question_gets_the_same_answer(places: int, data: some.DataObject) -> None:
    masses = data.draw(some.lists(some.floats(5, 50), min_size=2, max_size=6))
    assume(len(masses) <= places)
    first = best_arrangement(places=places, masses_kg=masses)
    assert best_arrangement(places=places, masses_kg=masses) == first
    assert first.occupied[0] == 0  # the first tube given stands in the first place


def test_primes_are_named_once_each() -> None:
    assert [prime_divisors(number) for number in (1, 2, 12, 30, 49, 71)] == [(), (2,), (2, 3), (2, 3, 5), (7,), (71,)]


@pytest.mark.parametrize("tubes", [0, 5])
def test_more_tubes_than_places_or_none_are_refused(tubes: int) -> None:
    with pytest.raises(OutOfRange, match="tubes"):
        best_arrangement(places=4, masses_kg=(1.0,) * tubes)
