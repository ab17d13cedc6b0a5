"""Numbers in words are rounded away from the cells."""

from hypothesis import given
from hypothesis import strategies as st

from plasmawright.documents.legible import legible, supported
from plasmawright.documents.wording import count, half_up_mm, volume_to_leave, volume_to_take


@given(st.floats(0, 300))
def test_a_volume_to_take_never_grows_and_one_to_leave_never_shrinks(volume_ml: float) -> None:
    # a millionth for the last bit of a float; a tenth is the finest a syringe is read
    assert volume_ml - 0.1 - 1e-6 <= float(volume_to_take(volume_ml)) <= volume_ml + 1e-6
    assert volume_ml - 1e-6 <= float(volume_to_leave(volume_ml)) <= volume_ml + 0.1 + 1e-6


@given(st.floats(0, 300))
def test_a_height_is_rounded_up_to_the_half_millimetre(height_mm: float) -> None:
    rounded_mm = half_up_mm(height_mm)
    assert rounded_mm * 2 == int(rounded_mm * 2)
    assert height_mm - 1e-6 <= rounded_mm < height_mm + 0.5


def test_a_tenth_stays_the_tenth_it_is() -> None:
    assert volume_to_take(4.9) == volume_to_leave(4.9) == "4.9"  # 4.9 * 10 is 49.00000000000001 in some orders


def test_a_prediction_shows_no_digit_that_means_nothing() -> None:
    assert [count(number) for number in (0.0239, 3.6057, 61.8, 1201.9)] == ["0.02", "3.6", "62", "1200"]


@given(st.text())
def test_whatever_is_written_becomes_letters_that_can_be_shown(text: str) -> None:
    assert set(legible(text)) <= supported()


def test_a_run_of_lacking_letters_is_written_once_in_its_place() -> None:
    assert legible("knee 膝关 left") == "knee ⟨U+819D 5173⟩ left"
