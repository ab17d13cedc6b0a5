"""Loading a rotor in the units of the bench: the contract's rules, the words of caution, the refusals."""

import math

import pytest

from plasmawright.errors import PlasmawrightError
from plasmawright.preparation.loading import (
    CAUTION_BUCKET,
    CAUTION_PAIRS,
    CAUTION_UNOPPOSED,
    CAUTION_WHOLE,
    Loading,
    load_rotor,
)

WATER_KG_M3 = 1000.0  # a round density, so that mL and g can be told apart from mistakes of a thousand by eye


def load(places: int, tubes: int, masses_g: list[float] | None = None, empty_mass_g: float | None = None) -> Loading:
    return load_rotor(
        places=places,
        tubes=tubes,
        masses_g=masses_g,
        empty_mass_g=empty_mass_g,
        water_density_kg_m3=WATER_KG_M3,
    )


def test_two_tubes_in_six_places_face_each_other() -> None:
    loading = load(6, 2)
    assert (loading.places, loading.balanced, loading.residual_g) == ((1, 4), True, 0)
    assert loading.counterweights == ()
    assert loading.cautions == (CAUTION_PAIRS,)


def test_equal_tubes_without_masses_weigh_one_gram() -> None:
    """One tube alone leaves its own gram, and asks for as much opposite."""
    loading = load(4, 1)
    assert not loading.balanced
    assert loading.residual_g == pytest.approx(1.0, abs=1e-12)
    (blank,) = loading.counterweights
    assert blank.place == 3
    assert blank.mass_g == pytest.approx(1.0)
    assert blank.water_ml == pytest.approx(1.0)
    assert (loading.places_with_blanks, loading.blanks_at) == ((1,), (3,))


@pytest.mark.parametrize(("lighter_g", "balanced"), [(19.51, True), (19.49, False)])
def test_half_a_gram_is_the_limit_for_weighed_tubes(lighter_g: float, balanced: bool) -> None:
    """The contract's rule: 0.49 g passes, 0.51 g does not, and both are told what is missing."""
    loading = load(4, 2, [20.0, lighter_g])
    assert loading.balanced is balanced
    (blank,) = loading.counterweights
    assert blank.place == 3
    assert blank.mass_g == pytest.approx(20 - lighter_g)
    assert CAUTION_BUCKET in loading.cautions


def test_water_has_its_own_density() -> None:
    loading = load_rotor(places=4, tubes=1, masses_g=[10.0], empty_mass_g=None, water_density_kg_m3=997.77)
    assert loading.counterweights[0].water_ml == pytest.approx(10 / 0.99777, rel=1e-12)


def test_the_empty_tube_s_own_mass_is_taken_off_the_water() -> None:
    known, unknown = load(4, 1, [19.8], 9.8), load(4, 1, [19.8])
    assert known.counterweights[0].mass_g == pytest.approx(10.0)
    assert unknown.counterweights[0].mass_g == pytest.approx(19.8)  # then it is the whole of what must stand there
    assert CAUTION_WHOLE not in known.cautions
    assert CAUTION_WHOLE in unknown.cautions


def test_places_are_told_in_the_order_of_the_tubes() -> None:
    """20.0 and 20.0 face each other and so do 30.0 and 30.0: any other order leaves 10 g or more."""
    loading = load(4, 4, [20.0, 30.0, 20.0, 30.0])
    assert loading.residual_g == 0
    assert loading.places[0] == 1
    assert abs(loading.places[0] - loading.places[2]) == 2


def test_a_triangle_is_loaded_only_with_a_word_about_the_manual() -> None:
    loading = load(12, 3)
    assert loading.balanced
    assert CAUTION_UNOPPOSED in loading.cautions


def test_blanks_are_counted_for_loads_that_cannot_balance() -> None:
    """Seven is prime: five equal tubes balance only when all seven places are filled."""
    loading = load(7, 5)
    assert sorted(loading.places_with_blanks + loading.blanks_at) == [1, 2, 3, 4, 5, 6, 7]
    assert len(loading.blanks_at) == 2


def test_a_rotor_of_one_place_never_balances_and_asks_for_nothing() -> None:
    loading = load(1, 1)
    assert not loading.balanced
    assert (loading.counterweights, loading.blanks_at) == ((), ())


@pytest.mark.parametrize(
    ("arguments", "field", "remedy"),
    [
        ((0, 1, None, None), "places", "Count the places"),
        ((73, 1, None, None), "places", "Count the places"),
        ((4, 0, None, None), "tubes", "at least one tube"),
        ((4, 5, None, None), "tubes", "no more than the rotor has places"),
        ((4, 2, [20.0], None), "masses", "Weigh every tube once"),
        ((4, 2, [20.0, 0.0], None), "masses.2", "Weigh each tube in grams"),
        ((4, 2, [20.0, 5001.0], None), "masses.2", "Weigh each tube in grams"),
        ((4, 2, [math.nan, 20.0], None), "masses.1", "the number itself"),
        ((4, 2, [20.0, math.inf], None), "masses.2", "the number itself"),
        ((4, 2, [20.0, 9.0], 9.8), "masses.2", "leave out the empty mass"),
        ((4, 2, [20.0, 20.0], -1.0), "empty-mass-g", "in grams"),
    ],
)
def test_what_cannot_be_loaded_is_refused(
    arguments: tuple[int, int, list[float] | None, float | None], field: str, remedy: str
) -> None:
    with pytest.raises(PlasmawrightError) as caught:
        load(*arguments)
    assert str(caught.value).startswith(f"{field} is ")
    assert remedy in str(caught.value)
