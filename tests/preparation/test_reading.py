"""Reading a preparation: the contract's example passes, and every mistake gets one refusal that lifts it."""

import copy
import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any  # a document as read from a file is nested plain data of any kind

import pytest

from plasmawright.errors import OutOfRange, Refusal, Refusals
from plasmawright.preparation.protocol import Place, RemoveSupernatant, Resuspend, Spin, Stop, Withdraw
from plasmawright.preparation.reading import preparation_from

Document = dict[str, Any]

EXAMPLE: Document = tomllib.loads(
    (Path(__file__).parents[2] / "docs" / "examples" / "contract.toml").read_text(encoding="utf-8")
)


def example() -> Document:
    return copy.deepcopy(EXAMPLE)


def changed(path: str, value: object) -> Document:
    """Return the example with the value at a dotted path set, or dropped when it is ``...``."""
    document = example()
    *parents, last = path.split(".")
    inside: Any = document
    for part in parents:
        inside = inside[int(part)] if isinstance(inside, list) else inside[part]
    key: Any = int(last) if isinstance(inside, list) else last
    if value is ...:
        del inside[key]
    else:
        inside[key] = value
    return document


def refusals(document: Document) -> tuple[Refusal, ...]:
    with pytest.raises(Refusals) as caught:
        preparation_from(document)
    return caught.value.found


def only_refusal(document: Document) -> Refusal:
    found = refusals(document)
    assert len(found) == 1, [str(refusal) for refusal in found]
    return found[0]


def test_the_contract_s_example_reads_as_written() -> None:
    preparation = preparation_from(example())
    assert preparation.blood.hematocrit_frac == 0.42
    assert preparation.collection.tubes == 4
    assert preparation.tubes["conical"].cone_height_mm == 22.0
    assert preparation.rotor.max_rcf == 3000
    assert preparation.steps == (
        Spin(minutes=10, rcf=160, rcf_at=Place.BOTTOM, up_s=30, down_s=60),
        Withdraw(stop=Stop.ABOVE_CELLS_MM, value=3.0, pool_into="conical", pool_tubes=2),
        Spin(minutes=10, rcf=1600),
        RemoveSupernatant(leave_ml=3.4),
        Resuspend(handling_frac=0.87),
    )


def test_what_was_left_out_stays_unknown() -> None:
    document = example()
    document["blood"] = {"hematocrit_frac": 0.4, "platelets_1e9_per_l": 200}
    blood = preparation_from(document).blood
    assert blood.white_cells_1e9_per_l is None
    assert blood.temperature_c is None


def test_a_preparation_may_end_with_its_first_withdrawal() -> None:
    document = example()
    document["steps"] = document["steps"][:2]
    assert len(preparation_from(document).steps) == 2


WRONG: dict[str, tuple[Document, str, str, str]] = {
    # what is wrong: document, field, part of the whole sentence, part of the remedy
    "a haematocrit in percent": (
        changed("blood.hematocrit_frac", 42),
        "blood.hematocrit_frac",
        "between 0.05 and 0.7",
        "A percentage? Write 0.42.",
    ),
    "platelets per microlitre": (
        changed("blood.platelets_1e9_per_l", 250000),
        "blood.platelets_1e9_per_l",
        "between 1 and 3000",
        "Counts are in 1e9/L: 250000/uL is 250.",
    ),
    "white cells per microlitre": (
        changed("blood.white_cells_1e9_per_l", 6500),
        "blood.white_cells_1e9_per_l",
        "between 0.1 and 200",
        "6500/uL is 6.5",
    ),
    "zero tubes": (changed("collection.tubes", 0), "collection.tubes", "between 1 and 72", "number of tubes"),
    "minus one tube": (changed("collection.tubes", -1), "collection.tubes", "between 1 and 72", "number of tubes"),
    "half a tube": (changed("collection.tubes", 2.5), "collection.tubes", "whole number", "without a point"),
    "no number": (changed("collection.blood_ml", math.nan), "collection.blood_ml", "number between", "the number"),
    "infinity": (changed("steps.0.minutes", math.inf), "steps.0.minutes", "number between", "the number itself"),
    "a negative time": (changed("steps.0.minutes", -10), "steps.0.minutes", "between 0.1 and 120", "at full speed"),
    "a time in seconds": (changed("steps.0.minutes", 600), "steps.0.minutes", "0.1 and 120", "Seconds? Write 10 min"),
    "a number in quotes": (
        changed("blood.hematocrit_frac", "0.42"),
        "blood.hematocrit_frac",
        'is "0.42"; it must be a number',
        "Drop the quotes: 0.42.",
    ),
    "true for a number": (
        changed("blood.hematocrit_frac", True),
        "blood.hematocrit_frac",
        "is true; it must be a number",
        "number alone",
    ),
    "a whole number longer than any float": (
        changed("blood.platelets_1e9_per_l", 10**400),
        "blood.platelets_1e9_per_l",
        "is inf;",
        "the number itself",
    ),
    "one for true": (changed("tubes.conical.graduated", 1), "tubes.conical.graduated", "true or false", "true or"),
    "a missing section": (changed("rotor", ...), "rotor", "is missing; it must be given", "bottom_radius_mm"),
    "no blood": (changed("blood", ...), "blood", "is missing; it must be given", "hematocrit_frac"),
    "no steps": (changed("steps", ...), "steps", "is missing; it must be given", "[[steps]]"),
    "empty steps": (changed("steps", []), "steps", "1 to 12", "spin"),
    "a missing field": (
        changed("collection.anticoagulant_ml", ...),
        "collection.anticoagulant_ml",
        "is missing",
        "a ratio is not converted",
    ),
    "an unknown key": (
        changed("blood.haematocrit", 0.42),
        "blood.haematocrit",
        "not a key of [blood]",
        "nearest known key is hematocrit_frac",
    ),
    "an unknown section": (changed("rotr", {}), "rotr", "not a key of this file", "nearest known key is rotor"),
    "an unknown key of a step": (
        changed("steps.3.leave", 1),
        "steps.3.leave",
        "not a key of [steps.3]",
        "nearest known key is leave_ml",
    ),
    "a ratio of anticoagulant": (
        changed("collection.anticoagulant_ratio", 9),
        "collection.anticoagulant_ratio",
        "not a key of [collection]",
        "nearest known key is anticoagulant_ml",
    ),
    "a section that is none": (changed("blood", 3), "blood", "must be a section", "[blood]"),
    "steps in single brackets": (changed("steps", {"do": "spin"}), "steps", "list of sections", "double brackets"),
    "a step that is none": (changed("steps.1", "spin"), "steps.1", "must be a section", "steps.1"),
    "an unknown step": (changed("steps.0.do", "sping"), "steps.0.do", "must be one of", 'nearest is "spin"'),
    "an unknown bottom": (
        changed("tubes.collection.bottom", "rounded"),
        "tubes.collection.bottom",
        "must be one of",
        'nearest is "round"',
    ),
    "a tube nobody described": (
        changed("collection.tube", "vacuum"),
        "collection.tube",
        "a name under [tubes]",
        "collection, conical",
    ),
    "pooling into nothing known": (
        changed("steps.1.pool_into", "cone"),
        "steps.1.pool_into",
        "a name under [tubes]",
        "collection, conical",
    ),
    "a cone without its height": (
        changed("tubes.conical.cone_height_mm", ...),
        "tubes.conical.cone_height_mm",
        "is missing",
        "Measure the cone",
    ),
    "a cone in a round bottom": (
        changed("tubes.collection.cone_height_mm", 20),
        "tubes.collection.cone_height_mm",
        "no cone",
        "Drop it",
    ),
    "a tip wider than the bore": (
        changed("tubes.conical.tip_diameter_mm", 14.6),
        "tubes.conical.tip_diameter_mm",
        "at most 13.87",
        "inside of the tip",
    ),
    "more lymphocytes and monocytes than white cells": (
        changed("blood.lymphocytes_frac", 0.95),
        "blood.lymphocytes_frac",
        "makes 1.02 and must not pass 1",
        "granulocytes",
    ),
    "more than the tube holds": (
        changed("collection.blood_ml", 9.6),
        "collection.blood_ml",
        "makes 11.1 mL and the tube holds 11",
        "larger kind",
    ),
    "a smear in a wide tube": (
        changed("tubes.collection", {"inner_diameter_mm": 60, "bottom": "flat", "capacity_ml": 11}),
        "collection.blood_ml",
        "must reach 5 mm",
        "narrower tube",
    ),
    "a column up to the axis": (
        changed("tubes.collection.inner_diameter_mm", 4),
        "collection.blood_ml",
        "would reach the axis",
        "inner_diameter_mm",
    ),
    "both force and speed": (changed("steps.0.rpm", 950), "steps.0.rcf", "beside rpm", "Keep one"),
    "neither force nor speed": (changed("steps.0.rcf", ...), "steps.0.rcf", "is missing", "rcf (a multiple"),
    "a force above rotor and tube": (changed("steps.0.rcf", 3001), "steps.0.rcf", "may go to 3000 g", "weaker"),
    "a stop below the cells": (
        changed("steps.1.value", -1),
        "steps.1.value",
        "between 0 and 150",
        "with_buffy_coat",
    ),
    "a stop above the fluid": (changed("steps.1.value", 90), "steps.1.value", "whole column", "nearer to the red"),
    "all supernatant and more": (changed("steps.3.leave_ml", 40), "steps.3.leave_ml", "at most 25.7 mL", "Leave less"),
    "a resuspension in percent": (
        changed("steps.4.handling_frac", 87),
        "steps.4.handling_frac",
        "between 0.05 and 1",
        "Write 0.87.",
    ),
    "a radius in centimetres": (
        changed("rotor.bottom_radius_mm", 16),
        "rotor.bottom_radius_mm",
        "between 20 and 400",
        "Centimetres? Write 160.",
    ),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_one_mistake_gets_one_refusal_with_field_value_limit_and_remedy(wrong: str) -> None:
    document, field, sentence, remedy = WRONG[wrong]
    refusal = only_refusal(document)
    assert refusal.field == field
    assert sentence in str(refusal)
    assert remedy in str(refusal)
    assert str(refusal).startswith(f"{field} is {refusal.value}; ")
    assert "\n" not in str(refusal)


def test_rpm_without_a_radius_says_why_a_radius_is_needed() -> None:
    document = changed("steps.0", {"do": "spin", "rpm": 950, "minutes": 10})
    del document["rotor"]["bottom_radius_mm"]
    refusal = only_refusal(document)
    assert refusal.field == "rotor.bottom_radius_mm"
    assert "same rpm is a weak spin on a short radius" in str(refusal)


def test_a_speed_is_held_against_the_force_it_makes_at_the_adapter_s_radius() -> None:
    """4095 rpm at 160 mm is 3000.3 g, 4094 rpm is 2998.8 g: 1.11824e-5 times 16 cm times the square of the speed."""
    document = changed("steps.0", {"do": "spin", "rpm": 4095, "minutes": 10})
    refusal = only_refusal(document)
    assert (refusal.field, refusal.value) == ("steps.0.rpm", "4095, or 3000.3 g at the bottom")
    preparation_from(changed("steps.0", {"do": "spin", "rpm": 4094, "minutes": 10}))
    document["tubes"]["collection"]["bottom_radius_mm"] = 150  # a shorter adapter: 2812.8 g
    preparation_from(document)


def test_a_force_quoted_at_the_top_is_larger_at_the_bottom() -> None:
    """10 mL stand 77.5 mm high in this round tube: at 160 mm the bottom gets 160 / 82.5 = 1.94 times as much."""
    document = changed("steps.0.rcf", 1600)
    preparation_from(document)
    document["steps"][0]["rcf_at"] = "top"
    refusal = only_refusal(document)
    assert refusal.field == "steps.0.rcf"
    column_mm = 1e4 / (math.pi * 6.5**2) + 6.5 / 3  # a hemisphere stands a third of its radius taller than a cylinder
    assert f"or {1600 * 160 / (160 - column_mm):.5g} g at the bottom" in refusal.value


def test_the_limit_is_that_of_the_tube_being_spun() -> None:
    document = changed("tubes.conical.max_rcf", 1500)
    refusal = only_refusal(document)
    assert refusal.field == "steps.2.rcf"
    assert "a conical tube may go to 1500 g" in refusal.limit


def test_more_than_is_in_each_tube_cannot_be_withdrawn() -> None:
    document = changed("steps.1", {"do": "withdraw", "stop": "volume_ml", "value": 10, "pool_into": "conical"})
    refusal = only_refusal(document)
    assert refusal.field == "steps.1.value"
    assert "only 10 mL are in each tube" in refusal.limit


def test_pool_tubes_too_few_to_hold_what_is_withdrawn_are_refused() -> None:
    """Four tubes give 4 mL each: 16 mL do not go into one tube of 15."""
    step = {"do": "withdraw", "stop": "volume_ml", "value": 4, "pool_into": "conical", "pool_tubes": 1}
    refusal = only_refusal(changed("steps.1", step))
    assert (refusal.field, refusal.value) == ("steps.1.pool_tubes", "1")
    assert refusal.remedy == "Pool into 2."


def test_a_buffy_coat_stop_below_nothing_is_refused() -> None:
    step = {"do": "withdraw", "stop": "with_buffy_coat", "value": -1, "pool_into": "conical"}
    refusal = only_refusal(changed("steps.1", step))
    assert isinstance(refusal, OutOfRange)
    assert "above_cells_mm" in refusal.remedy


def keep(*numbers: int) -> Callable[[list[object]], list[object]]:
    return lambda steps: [steps[number] for number in numbers]


@pytest.mark.parametrize(
    ("order", "field", "remedy"),
    [
        (keep(1, 2, 3, 4), "steps.0.do", "spin of these tubes before"),
        (keep(0, 3, 4), "steps.1.do", "Withdraw the plasma into other tubes"),
        (keep(0, 1, 3, 4), "steps.2.do", "spin those first"),
        (keep(0, 1, 2, 4, 3), "steps.3.do", "remove_supernatant before"),
        (keep(0, 1, 2, 3, 4, 4), "steps.5.do", "remove_supernatant before"),
        (keep(0, 1, 1), "steps.2.do", "spin of these tubes before"),
        (keep(0), "steps", "withdraw"),
        (keep(*[0] * 13), "steps", "Split"),
    ],
)
def test_steps_in_an_order_that_makes_no_sense_are_refused(
    order: Callable[[list[object]], list[object]], field: str, remedy: str
) -> None:
    document = example()
    document["steps"] = order(document["steps"])
    refusal = only_refusal(document)
    assert refusal.field == field
    assert remedy in refusal.remedy


def test_names_with_line_breaks_stay_on_one_line() -> None:
    refusal = only_refusal(changed("blood.a\nb", 1))
    assert refusal.field == "blood.a?b"
    document = example()
    document["tubes"]["wide\nmouth"] = document["tubes"]["conical"]
    assert "that can be printed" in only_refusal(document).limit


def test_several_mistakes_are_all_told_in_the_order_of_the_file() -> None:
    document = changed("blood.hematocrit_frac", 42)
    document["collection"]["tubes"] = 0
    document["steps"][0]["minutes"] = -1
    assert [refusal.field for refusal in refusals(document)] == [
        "blood.hematocrit_frac",
        "collection.tubes",
        "steps.0.minutes",
    ]


def test_a_refused_number_is_not_spoken_of_twice() -> None:
    """A NaN volume breaks no rule between fields: only the number itself is refused."""
    document = changed("collection.blood_ml", math.nan)
    document["steps"][1] = {"do": "withdraw", "stop": "volume_ml", "value": math.nan, "pool_into": "conical"}
    assert [refusal.field for refusal in refusals(document)] == ["collection.blood_ml", "steps.1.value"]
