"""A bore by water and ruler: an exact cylinder gives its own bore back, and what cannot be is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plasmawright.errors import OutOfRange, Refusal, Refusals
from plasmawright.parameters.table import value
from plasmawright.practice.bore import Bore, Levels, bore_of, caution_tubes_differ, water_density_kg_m3


def filled(diameter_mm: float, *, lower_mm: float = 20, upper_mm: float = 60, temperature_c: float = 22) -> Levels:
    """Return what scale and ruler would show for a cylinder, without any error."""
    g_per_mm = math.pi / 4 * diameter_mm**2 * water_density_kg_m3(temperature_c) * 1e-6
    return Levels(lower_mm=lower_mm, lower_g=lower_mm * g_per_mm, upper_mm=upper_mm, upper_g=upper_mm * g_per_mm)


def bore(*tubes: Levels, temperature_c: float = 22, shaped_height_mm: float | None = 0) -> Bore:
    return bore_of(tubes, temperature_c=temperature_c, shaped_height_mm=shaped_height_mm)


@given(
    diameter_mm=st.floats(6, 40),
    lower_mm=st.floats(0, 50),
    apart_mm=st.floats(10.001, 100),
    temperature_c=st.floats(4, 37),
)
def test_an_exact_cylinder_gives_its_own_bore_back(
    diameter_mm: float, lower_mm: float, apart_mm: float, temperature_c: float
) -> None:
    levels = filled(diameter_mm, lower_mm=lower_mm, upper_mm=lower_mm + apart_mm, temperature_c=temperature_c)
    if levels.upper_g < 250:  # more water than any of these tubes holds is refused
        assert bore(levels, temperature_c=temperature_c).inner_diameter_mm == pytest.approx(diameter_mm, rel=1e-9)


def test_the_manuals_example_is_thirteen_millimetres() -> None:
    # 5.31 g over 40 mm: 2 √(5310 / (40 π)) = 13.00 mm were water 1 g/mL; at 997.77 kg/m³ a thousandth more
    measured = bore(Levels(lower_mm=20, lower_g=2, upper_mm=60, upper_g=7.31))
    assert measured.inner_diameter_mm == pytest.approx(13.001 * math.sqrt(1000 / 997.77), abs=0.001)


def test_water_is_as_dense_as_the_tables_say_at_the_temperatures_they_say() -> None:
    assert water_density_kg_m3(22) == pytest.approx(value("water_density_22c"), abs=0.01)
    # the recommended table's values at 4, 20 and 25 °C, from memory
    for temperature_c, kg_m3 in ((4, 999.975), (20, 998.207), (25, 997.047)):
        assert water_density_kg_m3(temperature_c) == pytest.approx(kg_m3, abs=0.001)
    with pytest.raises(OutOfRange, match="temperature_c is 72"):
        water_density_kg_m3(72)


def test_what_is_unsure_comes_from_ruler_and_scale_and_falls_with_the_distance() -> None:
    near, far = bore(filled(13, upper_mm=40)), bore(filled(13, upper_mm=100))
    # by hand at 80 mm: half of √((√2·0.25/80)² + (√2·0.01/10.6)²) of 13 mm
    assert far.uncertainty_mm == pytest.approx(6.5 * math.hypot(0.35355 / 80, 0.014142 / 10.595), rel=1e-3)
    assert near.uncertainty_mm > 3 * far.uncertainty_mm


def test_three_equal_tubes_are_surer_than_one_by_the_root_of_three() -> None:
    one, three = bore(filled(13)), bore(*[filled(13)] * 3)
    assert three.uncertainty_mm == pytest.approx(one.uncertainty_mm / math.sqrt(3))
    assert caution_tubes_differ(three) is None


def test_tubes_that_differ_by_more_than_is_assumed_are_spoken_of() -> None:
    apart = bore(filled(12.8), filled(13.0), filled(13.2))
    assert apart.inner_diameter_mm == pytest.approx(13.0)
    assert apart.differ_mm == pytest.approx(0.4)
    assert apart.uncertainty_mm == pytest.approx(0.2 / math.sqrt(3))  # the scatter, more than the ruler's share
    caution = caution_tubes_differ(apart)
    assert caution is not None
    assert "differ by 0.40 mm" in caution.text


def test_a_level_below_the_straight_part_is_refused() -> None:
    with pytest.raises(Refusals, match=r"tubes\.0\.lower_mm is 5; the tube is straight only above 6\.5 mm"):
        bore(filled(13, lower_mm=5), shaped_height_mm=None)  # a round bottom is half a bore high
    with pytest.raises(Refusals, match=r"only above 22\.0 mm"):
        bore(filled(13, lower_mm=20), shaped_height_mm=22)
    bore(filled(13, lower_mm=7), shaped_height_mm=None)


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        (Levels(lower_mm=20, lower_g=3, upper_mm=25, upper_g=4), r"upper_mm is 25; it must stand at least 10 mm"),
        (Levels(lower_mm=20, lower_g=3, upper_mm=60, upper_g=3), r"upper_g is 3; it must be more than the 3 g"),
        (Levels(lower_mm=-1, lower_g=3, upper_mm=60, upper_g=5), r"lower_mm is -1"),
        (Levels(lower_mm=20, lower_g=math.nan, upper_mm=60, upper_g=5), r"lower_g is nan"),
    ],
)
def test_readings_that_cannot_be_are_refused_by_name(levels: Levels, said: str) -> None:
    with pytest.raises(Refusals, match=said):
        bore(levels)


def test_no_tube_and_four_tubes_are_refused() -> None:
    for tubes in ((), (filled(13),) * 4):
        with pytest.raises(Refusal, match="1 to 3 tubes"):
            bore(*tubes)
