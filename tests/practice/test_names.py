"""Who could be taken for whom."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as some

from plasmawright.errors import Refusal
from plasmawright.practice.names import Identity, alert_birth, alert_name, alerts_among, checked_name, folded


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Zoë Müller", "ZOE MULLER"),  # case and accents
        ("Ana María Gómez", "Gomez, Ana Maria"),  # order of words
        ("Sean O'Brien", "Sean O\u2019Brien"),  # two apostrophes
        ("Łukasz Żak", "Lukasz Zak"),  # a stroke is no accent
        ("Anne-Marie Blau", "Annemarie Blau"),
        ("محمد علي", "علي محمد"),  # written from right to left
    ],
)
def test_the_same_name_is_known_however_it_is_written(one: str, other: str) -> None:
    assert alert_name(one, other) == "Same name"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Maria Silva", "Mario Silva"),
        ("Jon Berg", "John Berg"),
        ("Catherine Holm", "Katherine Holm"),
        ("Anna Berg", "Hanna Bergh"),  # the first letter moves the word in any order by alphabet
        ("Ana Silva", "Ana Maria Silva"),  # one given name left out
        ("Anna Meyer", "Anna Maier"),
    ],
)
def test_a_similar_name_is_one_that_a_hurried_eye_takes_for_the_other(one: str, other: str) -> None:
    assert alert_name(one, other) == "Similar name"


@pytest.mark.parametrize(
    ("one", "other"), [("Peter Hansen", "Petra Jansson"), ("Ida Lund", "Omar Haddad"), ("Eva Roth", "Noor Aziz")]
)
def test_names_that_differ_raise_nothing(one: str, other: str) -> None:
    assert alert_name(one, other) is None


def test_birth_dates_are_alike_when_swapped_or_one_digit_apart() -> None:
    day = date(1961, 4, 5)
    assert alert_birth(day, day) == "Same birth date"
    assert alert_birth(day, date(1961, 5, 4)) == "Similar birth date"
    assert alert_birth(day, date(1967, 4, 5)) == "Similar birth date"
    assert alert_birth(day, date(1961, 8, 15)) is None


def test_an_alert_names_the_reason_and_the_end_of_the_others_number_and_never_the_other_person() -> None:
    people = [
        Identity(key=1, name="Maria Silva", birth_on=date(1961, 4, 5), record_number="R-100017"),
        Identity(key=2, name="Mario Silva", birth_on=date(1961, 4, 5), record_number="R-100452"),
        Identity(key=3, name="Omar Haddad", birth_on=date(1980, 12, 30), record_number="R-100999"),
    ]
    found = alerts_among(people)
    assert set(found) == {1, 2}  # nobody is taken for the third
    assert found[1] == ("Similar name and same birth date: another patient, record number ending 452.",)
    assert "Mario" not in found[1][0]
    assert "1961" not in found[1][0]
    assert "R-100452" not in found[1][0]


@given(some.text(max_size=30), some.text(max_size=30))
def test_an_alert_is_the_same_from_either_side(one: str, other: str) -> None:
    assert alert_name(one, other) == alert_name(other, one)


@given(some.text(max_size=60))
def test_folding_twice_is_folding_once(text: str) -> None:
    assert folded(folded(text)) == folded(text)


@pytest.mark.parametrize("name", ["شيرين", "Nguyễn Thị Ánh", "Ɓaa Ŋkɔ", "李小龙", "Ǫlǫf Þórðarson", "می\u200cنا"])
def test_letters_of_any_script_are_kept(name: str) -> None:
    assert checked_name(f"  {name}  ") == name


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "it must hold a letter"),
        ("12 / 7", "it must hold a letter"),
        ("x" * 121, "at most 120 characters"),
        ("Ana \u202eavliS", "hidden signs"),  # turns the writing round on a label
        ("Ana\x00Silva", "hidden signs"),
        ("A" + "\u0301" * 9, "a letter may carry 4 marks"),
    ],
)
def test_a_name_nobody_can_read_is_refused_with_what_lifts_it(name: str, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        checked_name(name)
