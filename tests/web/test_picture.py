"""The drawing is to scale: one unit is one millimetre."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plasmawright.preparation.prediction import Layers
from plasmawright.preparation.protocol import TubeKind
from plasmawright.science.tube import Bottom
from plasmawright.web.answer import rounded
from plasmawright.web.picture import RIM_MM, moved_apart, picture_of

LAYERS = Layers(
    filled_mm=77.0,
    interface_mm=38.0,
    stop_mm=41.0,
    stop_low_mm=40.0,
    stop_high_mm=43.0,
    red_frac=(),
    white_frac=(),
    platelet_frac=(),
)


def test_a_flat_tube_is_as_tall_as_its_capacity_says() -> None:
    kind = TubeKind(inner_diameter_mm=10.0, bottom=Bottom.FLAT, capacity_ml=7.854)
    assert picture_of(kind, LAYERS).tall_mm - RIM_MM == pytest.approx(7854 / (math.pi * 25), rel=1e-9)


def test_the_layers_meet_and_the_stop_line_lies_above_the_red_cells() -> None:
    picture = picture_of(TubeKind(inner_diameter_mm=13.0, bottom=Bottom.ROUND, capacity_ml=11.0), LAYERS)
    assert picture.plasma.top_mm + picture.plasma.tall_mm == pytest.approx(picture.red.top_mm)
    assert picture.red.top_mm + picture.red.tall_mm == pytest.approx(picture.tall_mm)
    assert picture.red.top_mm - picture.stop_mm == pytest.approx(3.0)


def test_a_graduated_tube_has_one_mark_a_millilitre_and_others_have_none() -> None:
    kind = TubeKind(
        inner_diameter_mm=14.6, bottom=Bottom.CONICAL, cone_height_mm=22.0, tip_diameter_mm=2.0, capacity_ml=15.0
    )
    plain, marked = picture_of(kind, LAYERS), picture_of(replace(kind, graduated=True), LAYERS)
    assert plain.graduations == ()
    assert [mark.words for mark in marked.graduations] == [str(volume_ml) for volume_ml in range(1, 16)]
    assert marked.graduations[-1].at_mm == pytest.approx(RIM_MM)  # the last one is the capacity itself


@given(st.lists(st.floats(0, 80), min_size=1, max_size=5).map(sorted))
def test_words_beside_the_tube_never_touch(wanted: list[float]) -> None:
    placed = moved_apart(wanted, gap=9.5, lowest=90)
    assert all(below - above >= 9.5 - 1e-9 for above, below in pairwise(placed))
    assert placed[-1] <= 90


@pytest.mark.parametrize(
    ("value", "step", "shown"),
    [(4.7612, 0.1, "4.8"), (38.3, 0.5, "38.5"), (1513.0, 10, "1,510"), (0.28645, 0, "0.29"), (0.0, 0, "0")],
)
def test_no_false_digits_are_shown(value: float, step: float, shown: str) -> None:
    assert rounded(value, step) == shown
