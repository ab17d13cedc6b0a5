"""A clinic's choices: ranges, defaults and the spread that stands beside each."""

from dataclasses import fields

import pytest

from plasmawright.errors import Refusal
from plasmawright.practice.clinic_settings import (
    SETTINGS,
    NumberSetting,
    Thresholds,
    chosen_from,
    label_identifiers,
    refuse_contradiction,
    setting,
    thresholds_from,
)


def test_every_setting_has_a_default_in_its_range_a_source_and_a_spread() -> None:
    assert len({known.key for known in SETTINGS}) == len(SETTINGS)
    for known in SETTINGS:
        known.read(known.default_text)  # refuses what lies outside
        assert known.source, known.key
        assert known.spread.endswith("."), known.key


def test_disputed_numbers_show_every_published_value() -> None:
    # facts 6.2 and 6.8: 48 h, 7 days or 2 weeks; 1 h or 4 h by edition
    assert all(words in setting("antiinflammatory_h").spread for words in ("48 h", "7 to 10 days", "2 weeks"))
    assert all(words in setting("hold_h").spread for words in ("4 h", "1 h", "3 h", "6 h"))
    assert "start of preparation" in setting("hold_h").spread


def test_every_threshold_of_an_intake_is_a_setting() -> None:
    found = thresholds_from(chosen_from({}))
    for field in fields(Thresholds):
        known = setting(field.name)
        assert isinstance(known, NumberSetting)
        assert getattr(found, field.name) == float(known.default_text)


@pytest.mark.parametrize("text", ["", "four", "nan", "0.1", "12"])
def test_a_number_outside_its_range_is_refused_at_its_field(text: str) -> None:
    with pytest.raises(Refusal, match=r"settings\.hold_h"):
        setting("hold_h").read(text)


def test_an_unknown_setting_is_refused() -> None:
    with pytest.raises(Refusal, match="one of the settings"):
        setting("hold_days")


def test_two_identifiers_stand_on_a_label_at_least() -> None:
    two = chosen_from({"label_record_number": "no"})
    refuse_contradiction(two, "label_record_number")
    assert label_identifiers(two) == ("name", "birth_on")
    one = chosen_from({"label_record_number": "no", "label_name": "no"})
    with pytest.raises(Refusal, match="2 identifiers"):
        refuse_contradiction(one, "label_name")


def test_the_absolute_limit_of_platelets_never_lies_above_the_relative_one() -> None:
    with pytest.raises(Refusal, match="above the relative one"):
        refuse_contradiction(chosen_from({"platelets_relative_1e9_per_l": "40"}), "platelets_relative_1e9_per_l")
