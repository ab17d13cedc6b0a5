"""Reading published documents: what cannot be used is refused where it stands."""

import copy
from typing import Any  # a document as read from TOML is of any shape

import pytest

from plasmawright.errors import Refusal, Refusals
from plasmawright.parameters.papers import TRENDS, documents, trends_document
from plasmawright.quality.published import cases_from
from plasmawright.quality.trend_files import trends_from

NAME = "petrushenko2022.toml"


def document() -> dict[str, Any]:
    """Return a fresh copy of one paper's document."""
    return copy.deepcopy(documents()[NAME])


def refused(changed: dict[str, Any]) -> str:
    """Return the refusal of a document."""
    with pytest.raises((Refusal, Refusals)) as refusal:
        cases_from({NAME: changed})
    return str(refusal.value)


def test_a_missing_key_is_named_with_its_file() -> None:
    changed = document()
    del changed["cases"][1]["published"]
    assert f"{NAME}.cases.2.published is missing" in refused(changed)


def test_an_unknown_key_is_refused_with_the_nearest() -> None:
    changed = document()
    changed["cases"][0]["agree_witin"] = 0.1
    assert "Did you mean agree_within?" in refused(changed)


def test_an_unknown_quantity_is_refused_with_the_nearest() -> None:
    changed = document()
    changed["cases"][0]["quantity"] = "first_recovery"
    assert "Did you mean first_recovery_frac?" in refused(changed)


@pytest.mark.parametrize("value", [0, -1.0, float("nan"), float("inf"), "0.8", True])
def test_a_published_number_that_is_none_is_refused(value: object) -> None:
    changed = document()
    changed["cases"][0]["published"] = value
    assert f"{NAME}.cases.1.published" in refused(changed)


def test_a_preparation_that_cannot_be_used_is_refused_where_it_stands() -> None:
    changed = document()
    changed["preparations"]["first"]["blood"]["hematocrit_frac"] = 40
    assert f"{NAME}.preparations.first.blood.hematocrit_frac is 40" in refused(changed)


def test_a_spread_of_what_belongs_to_blood_is_refused() -> None:
    # it would be believed of one paper alone, while blood is the same in all
    changed = document()
    changed["preparations"]["first"]["spread"]["red_cell_aggregation"] = 1.0
    assert "red_cell_aggregation" in refused(changed)


def test_an_id_that_stands_twice_is_refused() -> None:
    changed = document()
    changed["cases"][1]["id"] = changed["cases"][0]["id"]
    assert "cases.id is E001-recovery" in refused(changed)


def test_no_case_at_all_is_refused() -> None:
    changed = document()
    changed["cases"] = []
    assert "cases is none" in refused(changed)


def test_a_direction_through_a_place_that_is_not_there_is_refused() -> None:
    changed: dict[str, Any] = copy.deepcopy(trends_document())
    changed["trends"][0]["settings"][0] = {"steps.7.rcf": 100}
    with pytest.raises(Refusal, match=r"steps\.7\.rcf is 7; it must be a place in the base"):
        trends_from(changed, TRENDS)


def test_a_level_of_one_setting_is_refused() -> None:
    changed: dict[str, Any] = copy.deepcopy(trends_document())
    changed["trends"][0]["settings"] = [{}]
    with pytest.raises(Refusal, match="at least 2"):
        trends_from(changed, TRENDS)
