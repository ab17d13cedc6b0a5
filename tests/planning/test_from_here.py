"""From here: what still can be done with what stands in the tubes."""

import json
from typing import Any

import numpy as np
import pytest
from tests.planning.visits import a_visit

from plasmawright.errors import Refusal
from plasmawright.parameters import sets
from plasmawright.planning.from_here import Here, Way, ways_from_here
from plasmawright.preparation.protocol import Spin

FEW = sets.drawn(count=48, seed=1)


def dose_1e9(way: Way) -> float:
    return float(np.median(way.plan.rich_1e9_per_l)) * way.plan.leave_ml / 1e3


def way_called(ways: tuple[Way, ...], start: str) -> Way:
    return next(way for way in ways if way.words.startswith(start))


def test_a_spin_cut_short_is_best_gone_on_with() -> None:
    """A power cut after three of six minutes: the cells still stand in the plasma, so minutes are added."""
    ways = ways_from_here(a_visit(), Here(tubes=3, spun=(Spin(rpm=1280, minutes=3),)), FEW)
    assert dose_1e9(way_called(ways, "Spin")) > dose_1e9(way_called(ways, "Go on")) * 1.1


def test_a_spin_far_too_hard_is_best_mixed_again() -> None:
    """At 1100 g for six minutes the platelets lie on the red cells: going on loses them, mixing brings them back."""
    ways = ways_from_here(a_visit(), Here(tubes=3, spun=(Spin(rpm=2500, minutes=6),)), FEW)
    assert ways[0].words.startswith("Mix the tubes again")
    assert dose_1e9(ways[0]) > dose_1e9(way_called(ways, "Go on")) * 1.1


def test_a_broken_tube_costs_its_share() -> None:
    spun = (Spin(rpm=1280, minutes=6),)
    three = way_called(ways_from_here(a_visit(), Here(tubes=3, spun=spun), FEW), "Go on")
    two = way_called(ways_from_here(a_visit(), Here(tubes=2, spun=spun), FEW), "Go on")
    assert dose_1e9(two) == pytest.approx(dose_1e9(three) * 2 / 3, rel=0.08)


def test_pooled_plasma_has_only_the_hard_spin_before_it() -> None:
    ways = ways_from_here(a_visit(), Here(tubes=3, spun=(Spin(rpm=1280, minutes=6),), pooled_ml=14.0), FEW)
    assert all(way.words.startswith("Spin hard") for way in ways)
    assert float(np.median(ways[0].plan.plasma_ml)) == pytest.approx(14.0 / 3, rel=0.05)


def test_there_are_at_most_three_ways() -> None:
    for here in (Here(tubes=3), Here(tubes=3, spun=(Spin(rpm=1280, minutes=4),))):
        assert 1 <= len(ways_from_here(a_visit(), here, FEW)) <= 3


@pytest.mark.parametrize(
    ("here", "field"),
    [
        (Here(tubes=0), "here.tubes"),
        (Here(tubes=2, spun=(Spin(rpm=1280, minutes=6),), pooled_ml=50.0), "here.pooled_ml"),
    ],
)
def test_what_cannot_be_is_refused(here: Here, field: str) -> None:
    with pytest.raises(Refusal) as refused:
        ways_from_here(a_visit(), here, FEW)
    assert refused.value.field == field


def test_a_way_tells_a_page_what_to_dial_and_what_to_expect() -> None:
    ways = ways_from_here(a_visit(), Here(tubes=3, spun=(Spin(rpm=2500, minutes=6),)), FEW)
    for way in ways:
        document: Any = json.loads(json.dumps(way.as_document(), allow_nan=False))
        assert document["plan"]["words"] == document["words"]
        assert document["platelets_1e9"]["p05"] <= document["platelets_1e9"]["p95"]
        assert (document["spin"] is None) == way.words.startswith("Go on")


def test_tubes_mixed_after_too_hard_a_spin_are_dialled_gently_not_as_before() -> None:
    """The speed that spoiled the first spin must not stand on the page of the second: 200 g at 160 mm are 1057 rpm."""
    ways = ways_from_here(a_visit(), Here(tubes=3, spun=(Spin(rpm=2500, minutes=6),)), FEW)
    document: Any = way_called(ways, "Mix").as_document()
    assert document["spin"]["rpm"] == pytest.approx(1057, abs=2)
    assert document["plan"]["soft"]["rcf"] == pytest.approx(200, rel=0.01)
    assert "1057 rpm" in document["words"]


def test_tubes_that_were_never_spun_are_given_a_speed() -> None:
    document: Any = ways_from_here(a_visit(), Here(tubes=3), FEW)[0].as_document()
    assert document["spin"]["rpm"] > 0


@pytest.mark.parametrize(
    "here",
    [
        Here(tubes=1, spun=(Spin(rpm=1280, minutes=1),), blood_ml=3.0),
        Here(tubes=1, spun=(Spin(rpm=3900, minutes=20),)),
        Here(tubes=2, spun=(Spin(rpm=1280, minutes=6), Spin(rpm=1280, minutes=6))),
    ],
)
def test_from_anywhere_at_all_there_are_one_to_three_ways_with_finite_numbers(here: Here) -> None:
    ways = ways_from_here(a_visit(), here, FEW)
    assert 1 <= len(ways) <= 3
    for way in ways:
        json.dumps(way.as_document(), allow_nan=False)
