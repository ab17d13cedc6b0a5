"""Height and volume of a tube, both ways."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy.integrate import quad

from plasmawright.science.tube import Bottom, Tube, area_m2, height_m, volume_m3

millimetres = some.floats(4, 60)
tubes = some.builds(
    lambda bore_mm, bottom, cone_mm, tip_share: Tube(
        inner_diameter_m=bore_mm * 1e-3,
        bottom=bottom,
        cone_height_m=cone_mm * 1e-3 if bottom is Bottom.CONICAL else 0.0,
        tip_diameter_m=tip_share * bore_mm * 1e-3 if bottom is Bottom.CONICAL else 0.0,
    ),
    millimetres,
    some.sampled_from(Bottom),
    some.floats(1, 100),
    some.floats(0.01, 0.95),
)
CONTRACT_CONE = Tube(inner_diameter_m=14.6e-3, bottom=Bottom.CONICAL, cone_height_m=22e-3, tip_diameter_m=2e-3)
CONTRACT_ROUND = Tube(inner_diameter_m=13e-3, bottom=Bottom.ROUND)


@settings(max_examples=300, deadline=None)
@given(tube=tubes, height_mm=some.floats(1e-3, 300))
def test_a_height_comes_back_from_its_volume(tube: Tube, height_mm: float) -> None:
    assert float(height_m(tube, volume_m3(tube, height_mm * 1e-3))) == pytest.approx(height_mm * 1e-3, rel=1e-12)


@settings(max_examples=300, deadline=None)
@given(tube=tubes, volume_ml=some.floats(1e-3, 250))
def test_a_volume_comes_back_from_its_height(tube: Tube, volume_ml: float) -> None:
    assert float(volume_m3(tube, height_m(tube, volume_ml * 1e-6))) == pytest.approx(volume_ml * 1e-6, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(tube=tubes, height_mm=some.floats(0.01, 200))
def test_the_volume_is_the_integral_of_the_cross_section(tube: Tube, height_mm: float) -> None:
    """Scipy's quadrature, told where the shaped part ends, knows the cross-section only."""
    top_m, shaped_m = height_mm * 1e-3, float(np.asarray(tube.shaped_height_m))
    edges = sorted({0.0, min(shaped_m, top_m), top_m})
    integral = sum(
        quad(lambda z: float(area_m2(tube, z)), low, high, epsabs=0, epsrel=1e-11)[0] for low, high in pairwise(edges)
    )
    assert float(volume_m3(tube, top_m)) == pytest.approx(integral, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(tube=tubes)
def test_more_volume_stands_higher(tube: Tube) -> None:
    assert (np.diff(height_m(tube, np.linspace(0, 50e-6, 400))) > 0).all()


def test_an_empty_tube_stands_at_zero() -> None:
    for tube in (CONTRACT_CONE, CONTRACT_ROUND, Tube(inner_diameter_m=13e-3, bottom=Bottom.FLAT)):
        assert float(height_m(tube, 0.0)) == 0
        assert float(volume_m3(tube, 0.0)) == 0


def test_the_contracts_cone_by_hand() -> None:
    """A frustum of radii 1 and 7.3 mm over 22 mm holds pi 22 (1 + 7.3 + 53.29) / 3 mm3 = 1.4189 mL."""
    cone_mm3 = math.pi * 22 * (1 + 7.3 + 7.3**2) / 3
    assert cone_mm3 == pytest.approx(1418.94, abs=0.01)
    assert float(volume_m3(CONTRACT_CONE, 22e-3)) == pytest.approx(cone_mm3 * 1e-9, rel=1e-13)
    straight_mm = (10_700 - cone_mm3) / (math.pi * 7.3**2)
    assert float(height_m(CONTRACT_CONE, 10.7e-6)) == pytest.approx((22 + straight_mm) * 1e-3, rel=1e-13)


def test_the_contracts_round_tube_by_hand() -> None:
    """A hemisphere of 6.5 mm holds 2/3 pi 6.5^3 mm3 = 0.57517 mL; 10 mL stand a third of a radius over a flat tube."""
    assert float(volume_m3(CONTRACT_ROUND, 6.5e-3)) == pytest.approx(2 / 3 * math.pi * 6.5**3 * 1e-9, rel=1e-13)
    assert float(height_m(CONTRACT_ROUND, 10e-6)) == pytest.approx(
        (10_000 / (math.pi * 6.5**2) + 6.5 / 3) * 1e-3, rel=1e-13
    )
    cap_mm3 = math.pi * 2**2 * (3 * 6.5 - 2) / 3  # a spherical cap 2 mm deep
    assert float(height_m(CONTRACT_ROUND, cap_mm3 * 1e-9)) == pytest.approx(2e-3, rel=1e-12)


def test_a_bore_for_each_draw_gives_a_height_for_each_draw() -> None:
    many = Tube(inner_diameter_m=np.array([12e-3, 13e-3]), bottom=Bottom.ROUND)
    alone = [float(height_m(Tube(inner_diameter_m=bore, bottom=Bottom.ROUND), 9e-6)) for bore in (12e-3, 13e-3)]
    assert height_m(many, np.array([9e-6, 9e-6])) == pytest.approx(alone, rel=1e-15)
