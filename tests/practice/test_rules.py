"""The table of practice: fixed numbers, every one with its source, none of them a quantity that is drawn."""

import pytest

from plasmawright.parameters.sets import central
from plasmawright.parameters.table import Kind, rows, rules
from plasmawright.science.uncertainty import Shape


def test_no_rule_of_practice_is_ever_drawn() -> None:
    assert rules()
    assert not set(rules()) & set(rows())
    assert not set(rules()) & set(central().names)
    assert all(row.spread == 0 and row.shape is Shape.FIXED for row in rules().values())


def test_every_rule_says_where_it_stands_and_for_whom() -> None:
    for row in rules().values():
        assert row.locator, row.name
        assert row.conditions, row.name
        assert row.source.seen, row.name


def test_what_was_not_seen_is_not_called_published() -> None:
    wrong = [row.name for row in rules().values() if row.kind is Kind.PUBLISHED and row.source.seen == "memory"]
    assert wrong == []


def test_the_table_stands_as_read_a_second_time() -> None:
    # read again from the sources' notes, apart from the table
    assert len(rules()) == 97
    three_months = [row.value for name, row in rules().items() if name.startswith("draw_three_months_ml")]
    assert sum(three_months) == 20 + 30 + 50 + 100 + 150 + 200 + 250 + 300 + 350 + 400 + 450
    world = [row.value for name, row in rules().items() if name.startswith("who_hemoglobin")]
    assert sum(world) == pytest.approx((105 + 110 + 115 + 120 + 120 + 110 + 105 + 110 + 130) / 10)
    assert sum(row.value for name, row in rules().items() if name.startswith("nadler_men")) == pytest.approx(1.00319)
    assert sum(row.value for name, row in rules().items() if name.startswith("nadler_women")) == pytest.approx(0.57248)
    # the five constants of the recommended equation, each as many digits as it is printed with
    water = [row.value for name, row in rules().items() if name.startswith("water_density")]
    assert sum(water) == pytest.approx(-3.983035 + 301.797 + 522528.9 + 69.34881 + 999.97495, rel=1e-12)
    recovery_h = [row.value for name, row in rules().items() if name.startswith("recovery_")]
    assert sorted(recovery_h) == [12, 12, 24, 48]  # diclofenac and ibuprofen 6-12, indomethacin 24, naproxen 24-48
    within = ("local_steroid_days", "systemic_steroid_days", "antiinflammatory_h", "aspirin_days")
    assert [rules()[name].value for name in (*within, "fluoroquinolone_days")] == [30, 14, 48, 10, 183]
    bench = ("hold_h", "open_caution_min", "stand_min", "rest_min", "solo_pause_s", "count_tube_ml")
    assert [rules()[name].value for name in bench] == [4, 60, 0, 10, 60, 2]
