"""`plasmawright balance`: the contract's keys on one line, and plain words without --json."""

import json

import pytest

from plasmawright.cli.balance import command
from plasmawright.errors import Refusal


def test_the_answer_for_scripts_has_the_contract_s_keys(capsys: pytest.CaptureFixture[str]) -> None:
    command(places=4, tubes=3, masses="19.8, 19.6,19.9", as_json=True)
    printed = capsys.readouterr().out
    assert len(printed.splitlines()) == 1
    answer = json.loads(printed)
    assert {"balanced", "residual_g", "places", "counterweights"} <= set(answer)
    assert len(answer["places"]) == 3
    assert all({"place", "mass_g", "water_ml"} <= set(weight) for weight in answer["counterweights"])


def test_the_water_is_that_of_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    """1 g of water at 22 °C is 1.00223 mL: its density is 997.77 kg/m3."""
    command(places=4, tubes=1, as_json=True)
    (weight,) = json.loads(capsys.readouterr().out)["counterweights"]
    assert weight["water_ml"] / weight["mass_g"] == pytest.approx(1.00223, abs=1e-5)


def test_the_words_say_where_what_and_what_to_mind(capsys: pytest.CaptureFixture[str]) -> None:
    command(places=4, tubes=1, masses="19.8", empty_mass_g=9.8)
    printed = capsys.readouterr().out
    assert "places 1, counted around the rotor from 1" in printed
    assert "Place 3: an empty tube of the same kind with 10.00 g (10.02 mL of water)." in printed
    assert "In a swing-out, buckets that face each other must match" in printed


def test_the_words_never_tell_to_pour_water_into_blood(capsys: pytest.CaptureFixture[str]) -> None:
    command(places=4, tubes=2, masses="20.0,19.0")
    printed = capsys.readouterr().out
    assert "Place 3: 1.00 g beside the tube, in its bucket." in printed
    assert "never into the blood" in printed


def test_a_mass_that_is_no_number_is_named() -> None:
    with pytest.raises(Refusal, match=r"masses\.2 is \"ten\"; it must be a number of grams"):
        command(places=4, tubes=2, masses="20,ten")
