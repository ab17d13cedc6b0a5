"""Whatever a file holds, reading it ends in a preparation or in our own refusals."""

import copy
import math
import tomllib
from pathlib import Path
from typing import Any  # a document as read from a file is nested plain data of any kind

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from plasmawright.errors import PlasmawrightError
from plasmawright.preparation.reading import preparation_from

Document = dict[str, Any]

EXAMPLE: Document = tomllib.loads(
    (Path(__file__).parents[2] / "docs" / "examples" / "contract.toml").read_text(encoding="utf-8")
)


def example() -> Document:
    return copy.deepcopy(EXAMPLE)


def places_in(value: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a document, sections and lists included, by the keys that lead to it."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [found for key, held in inside for found in ((*path, key), *places_in(held, (*path, key)))]


PLACES = places_in(EXAMPLE)
odd_values = some.one_of(
    some.none(),
    some.booleans(),
    some.integers(),
    some.sampled_from((0, -1, 1e-300, 1e300, 10**400, -(10**400), math.inf, -math.inf, math.nan, 0.999999, 71, 72)),
    some.floats(),
    some.text(max_size=50),
    some.sampled_from(
        ("flat", "round", "conical", "volume_ml", "with_buffy_coat", "spin", "top", "middle", "resuspend")
    ),
    some.lists(some.integers(), max_size=3),
    some.dictionaries(some.text(max_size=5), some.integers(), max_size=2),
    some.datetimes(),
)


def outcome(document: Document) -> str:
    """What a refusal says, or nothing; any other exception is what these tests look for."""
    try:
        preparation_from(document)
    except PlasmawrightError as refusal:
        return str(refusal)
    return ""


@settings(max_examples=400, deadline=None)
@given(data=some.data())
def test_no_change_to_a_file_ends_in_anything_but_our_own_refusals(data: some.DataObject) -> None:
    document = example()
    for _ in range(data.draw(some.integers(1, 4))):
        *parents, last = data.draw(some.sampled_from(PLACES))
        inside: Any = document
        try:
            for key in parents:
                inside = inside[key]
            if data.draw(some.booleans()):
                inside[last] = data.draw(odd_values)
            else:
                del inside[last]
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took this place away
    said = outcome(document)
    assert said == "" or all(" is " in line and "; " in line for line in said.split("\n"))


@settings(max_examples=100, deadline=None)
@given(
    document=some.recursive(
        odd_values,
        lambda inner: some.dictionaries(some.sampled_from(("blood", "steps", "tubes", "do", "a\nb", "")), inner),
    ).filter(lambda document: isinstance(document, dict))
)
def test_no_invented_document_ends_in_anything_but_our_own_refusals(document: Document) -> None:
    with pytest.raises(PlasmawrightError):
        preparation_from(document)
