"""Files in TOML: what is not one is refused in one sentence, whatever its bytes."""

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from plasmawright.errors import PlasmawrightError, Refusal
from plasmawright.exchange.toml.decode import BYTES_MAX, decode
from plasmawright.exchange.toml.read import read_document, read_preparation
from plasmawright.preparation.reading import preparation_from

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "contract.toml"


def refusal_of(path: Path) -> Refusal:
    with pytest.raises(Refusal) as caught:
        read_document(path)
    assert "\n" not in str(caught.value)
    return caught.value


def test_the_contract_s_example_is_read() -> None:
    assert read_preparation(EXAMPLE).collection.blood_ml == 8.5


def test_a_mark_of_byte_order_is_no_hindrance(tmp_path: Path) -> None:
    """Editors on one large system put it there, and nobody sees it."""
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + EXAMPLE.read_bytes())
    assert read_preparation(path) == read_preparation(EXAMPLE)


def test_no_file_says_where_it_was_looked_for(tmp_path: Path) -> None:
    refusal = refusal_of(tmp_path / "nowhere.toml")
    assert (refusal.field, refusal.value) == ("nowhere.toml", "not there")
    assert refusal.remedy.startswith("Look for it in /")


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert refusal_of(tmp_path).value == "a folder"


def test_a_pipe_is_refused_without_waiting_for_it(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    assert refusal_of(pipe).value == "not an ordinary file"


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    """The path goes on below a file, which the system tells by another error than a missing one."""
    (tmp_path / "plain").write_text("x", encoding="utf-8")
    assert "readable file" in refusal_of(tmp_path / "plain" / "below.toml").limit


@pytest.mark.parametrize("name", ["a" * 5000, "zero\0byte"])
def test_a_name_no_disk_can_hold_is_refused(tmp_path: Path, name: str) -> None:
    assert "readable file" in refusal_of(tmp_path / name).limit


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_closed_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "closed.toml"
    path.touch(mode=0o000)
    assert refusal_of(path).value == "closed to you"


def test_a_file_of_fifty_megabytes_is_refused_by_its_size_alone(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    with path.open("wb") as large:
        large.truncate(50_000_000)
    refusal = refusal_of(path)
    assert refusal.value == "50 MB long"
    assert refusal.limit == "it must be at most 1 MB"


def test_bytes_that_are_not_text_are_refused_with_their_place() -> None:
    with pytest.raises(Refusal, match=r"bad\.toml is not text at byte 4; it must be text in UTF-8"):
        decode(b"ab=\n\xff\xfe\x00", "bad.toml")


def test_a_line_that_is_not_toml_is_named() -> None:
    with pytest.raises(Refusal, match=r"is not TOML at line 2, column 17; .* Mend that line: Expected '='"):
        decode(b"[blood]\nhematocrit_frac 0.42\n", "bad.toml")


def test_the_same_key_twice_is_refused() -> None:
    with pytest.raises(Refusal, match="line 2"):
        decode(b"a = 1\na = 2\n", "twice.toml")


def test_a_number_of_thousands_of_digits_is_refused() -> None:
    """The interpreter refuses to read it, by an error that is not the TOML reader's own."""
    with pytest.raises(Refusal, match="too long to read"):
        decode(b"a = " + b"9" * 5000, "long.toml")


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100 + "]" * 100,
        "a = " + "[" * 100_000 + "]" * 100_000,
        ".".join("k" * 100) + " = 1",
        "a = " + "{b = " * 2000 + "1" + "}" * 2000,
    ],
)
def test_nesting_without_end_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match="nested too deeply"):
        decode(text.encode(), "deep.toml")


def test_thousands_of_values_are_refused() -> None:
    with pytest.raises(Refusal, match="values long"):
        decode(b"a = [" + b"1," * 20_000 + b"]", "many.toml")


def test_a_file_at_the_limit_of_its_size_is_read() -> None:
    padded = b"a = 1\n#" + b"x" * (BYTES_MAX - 7)
    assert decode(padded, "padded.toml") == {"a": 1}
    with pytest.raises(Refusal, match="at most 1 MB"):
        decode(padded + b"x", "padded.toml")


def outcome(data: bytes) -> str:
    """What a refusal says, or nothing; any other exception is what these tests look for."""
    try:
        preparation_from(decode(data, "random.toml"))
    except PlasmawrightError as refusal:
        return str(refusal)
    return ""


@settings(max_examples=300, deadline=None)
@given(data=some.one_of(some.binary(max_size=300), some.text(max_size=300).map(lambda text: text.encode("utf-8"))))
def test_no_bytes_end_in_anything_but_our_own_refusals(data: bytes) -> None:
    assert " is " in outcome(data)  # no short file is a preparation, so each must be refused


@settings(max_examples=300, deadline=None)
@given(cut=some.integers(0, 2500), width=some.integers(0, 40), put=some.binary(max_size=8))
def test_no_torn_example_ends_in_anything_but_our_own_refusals(cut: int, width: int, put: bytes) -> None:
    whole = EXAMPLE.read_bytes()
    said = outcome(whole[:cut] + put + whole[cut + width :])
    assert said == "" or all(" is " in line and "; " in line for line in said.split("\n"))
