"""Every row carries its source, and each table stands as it was read a second time."""

import tomllib
from importlib.resources import files

import pytest

from plasmawright.errors import Refusal
from plasmawright.parameters.table import RULE_TABLES, TABLES, Kind, references, rows, rules

# Rows and the sum of their values when the tables were last checked against their sources: a slip of a digit shows.
READ_AGAIN = {
    "fluids": (4, 2046.81),
    "cells": (11, 6355.635),
    "bed": (13, 140.71450066),
    "technique": (17, 93.37),
    "population": (10, 288.72),
    "planning": (16, 3293.24),
    "reading": (18, 105.77),
}


@pytest.mark.parametrize("table", TABLES)
def test_a_table_has_the_rows_and_the_sum_it_was_read_with(table: str) -> None:
    text = files("plasmawright.parameters").joinpath("tables", f"{table}.toml").read_text(encoding="utf-8")
    plain = tomllib.loads(text)
    count, total = READ_AGAIN[table]
    assert len(plain) == count
    assert sum(row["value"] for row in plain.values()) == pytest.approx(total, rel=1e-9)


def test_every_row_says_where_and_under_what_conditions_it_was_read() -> None:
    for row in (*rows().values(), *rules().values()):
        assert row.locator.strip(), row.name
        assert row.conditions.strip(), row.name
        assert row.unit.strip(), row.name
        assert row.low <= row.value <= row.high, row.name
        if row.kind is Kind.PUBLISHED:
            assert row.source.key != "trade", f"{row.name} is called published and has no source"


def test_every_reference_is_used_and_says_what_of_it_was_seen() -> None:
    used = {row.source.key for row in (*rows().values(), *rules().values())}
    for key, reference in references().items():
        assert reference.seen.strip(), key
        assert key in used or reference.text, key


def test_only_rows_that_were_fitted_say_what_was_believed_before() -> None:
    for row in rows().values():
        assert (row.value_before is None) == (row.spread_before is None), row.name
        if row.value_before is not None:
            assert row.kind is Kind.FITTED, row.name


def test_a_row_that_lacks_its_source_does_not_load() -> None:
    from plasmawright.parameters.table import _row

    with pytest.raises(Refusal, match="listed source"):
        _row("fluids", "plasma", {"value": 1.0, "unit": "1", "spread": 0.0, "shape": "fixed", "kind": "assumed"})


def test_the_rules_of_the_trade_are_no_part_of_a_parameter_set() -> None:
    assert not set(rules()) & set(rows())
    assert RULE_TABLES == ("practice",)
