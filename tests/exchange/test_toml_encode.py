"""What is written is what is read back."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.planning.visits import EXAMPLE

from plasmawright.exchange.toml.decode import decode
from plasmawright.exchange.toml.encode import encode

VALUES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
    st.integers(-(2**60), 2**60),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
)
TABLES = st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=8), VALUES, max_size=5)


def test_a_visit_is_read_back_as_it_was() -> None:
    assert decode(encode(EXAMPLE).encode(), "visit") == EXAMPLE


@given(TABLES, TABLES, st.lists(TABLES, min_size=1, max_size=3))
def test_any_text_number_or_flag_comes_back(
    own: dict[str, object], inner: dict[str, object], rows: list[dict[str, object]]
) -> None:
    document = {"section": {**own, 'deep \x7f\n"': inner}, "rows": rows}
    assert tomllib.loads(encode(document)) == document


def test_what_toml_does_not_know_is_a_fault_of_ours() -> None:
    with pytest.raises(TypeError, match="NoneType"):
        encode({"section": {"key": None}})
