"""Letters against worked examples; each row's own source stands beside it."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from plasmawright.errors import OutOfRange, Refusal
from plasmawright.practice.classification import (
    classify_delong_2012,
    classify_magalon_2016,
    classify_mautner_2015,
    classify_mishra_2012,
    classify_red_cells,
    classify_weibrich_2004,
    classify_white_cells,
)
from plasmawright.practice.product import Activation, ProductCells, counted_cells

CLEAN = ProductCells(platelets_1e9_per_l=1200, red_cells_1e12_per_l=0.1, white_cells_1e9_per_l=5)


def product(*, platelets_1e9_per_l: float = 1000, white_cells_1e9_per_l: float = 1) -> ProductCells:
    """Return a product of which a test names only what matters."""
    return ProductCells(
        platelets_1e9_per_l=platelets_1e9_per_l, red_cells_1e12_per_l=0.05, white_cells_1e9_per_l=white_cells_1e9_per_l
    )


@pytest.mark.parametrize(
    ("row", "dose", "letter"),
    [("C080", 5.1, "A"), ("C081", 4.8, "B"), ("C082", 3.0, "B"), ("C084", 1.0, "C"), ("facts", 5.0, "B")],
)
def test_dose_letters_meet_the_worked_examples(row: str, dose: float, letter: str) -> None:
    # Magalon 2016's cut-offs from memory; the rule at the cut-offs is ours
    found = classify_magalon_2016(dose_1e9=dose, recovery_frac=0.6, cells=CLEAN, activation=Activation.NONE)
    assert found.letters.split("-")[0] == letter, row
    assert "ours" in found.boundary


@pytest.mark.parametrize(
    ("row", "recovery", "letter"), [("C086", 0.91, "A"), ("C087", 0.72, "B"), ("C088", 0.50, "C"), ("edge", 0.90, "B")]
)
def test_efficiency_letters_meet_the_worked_examples(row: str, recovery: float, letter: str) -> None:
    # Magalon 2016's cut-offs from memory; the rule at the cut-offs is ours
    found = classify_magalon_2016(dose_1e9=2, recovery_frac=recovery, cells=CLEAN, activation=Activation.NONE)
    assert found.letters.split("-")[1] == letter, row


@pytest.mark.parametrize(
    ("row", "red", "letter", "percent"), [("C090", 0.1, "A", "91.95"), ("C091", 0.5, "B", "70.38")]
)
def test_purity_letters_meet_the_worked_examples(row: str, red: float, letter: str, percent: str) -> None:
    # C090: 1200 / 1305; C091, the trap of units: 0.5e12/L are 500e9/L, 1200 / 1705
    cells = ProductCells(platelets_1e9_per_l=1200, red_cells_1e12_per_l=red, white_cells_1e9_per_l=5)
    found = classify_magalon_2016(dose_1e9=4.8, recovery_frac=0.72, cells=cells, activation=Activation.ADDED)
    assert found.letters == f"B-B-{letter}-yes", row
    assert percent in found.rule


@pytest.mark.parametrize(
    ("row", "platelets", "band"),
    [
        ("C092", 240, "P1"),
        ("C093", 250, "P1"),
        ("C094", 251, "P2"),
        ("edge", 750, "P2"),
        ("C096", 751, "P3"),
        ("C097", 1250, "P3"),
        ("edge", 1251, "P4"),
    ],
)
def test_platelet_bands_meet_the_worked_examples(row: str, platelets: float, band: str) -> None:
    # DeLong 2012 as in PMC8044532 table 1, baseline 250, exact
    found = classify_delong_2012(
        cells=product(platelets_1e9_per_l=platelets), blood_platelets_1e9_per_l=250, activation=Activation.NONE
    )
    assert found.letters == f"{band}-?-?", row  # nothing known of the blood's white cells or neutrophils


def test_the_whole_code_meets_the_worked_example() -> None:
    # C099, PMC5302100 table 6: 700, white cells and neutrophils below, not activated, baseline 250
    cells = product(platelets_1e9_per_l=700, white_cells_1e9_per_l=2)
    code = [
        classify_delong_2012(
            cells=cells,
            blood_platelets_1e9_per_l=250,
            blood_white_cells_1e9_per_l=6,
            neutrophils_1e9_per_l=0.5,
            blood_neutrophils_1e9_per_l=4,
            activation=activation,
        ).letters
        for activation in (Activation.NONE, Activation.ADDED)
    ]
    assert code == ["P2-B-beta", "P2-x-B-beta"]  # x is written for an added activator alone


@pytest.mark.parametrize(
    ("row", "fold", "white", "activation", "letters"),
    [
        ("C100", 5.5, 12, Activation.NONE, "1A"),
        ("C101", 4.9, 1, Activation.ADDED, "4B"),
        ("edge", 5.0, 12, Activation.ADDED, "2A"),
        ("edge", 4.99, 1, Activation.NONE, "3B"),
    ],
)
def test_types_meet_the_worked_examples(
    row: str, fold: float, white: float, activation: Activation, letters: str
) -> None:
    cells = product(platelets_1e9_per_l=fold * 200, white_cells_1e9_per_l=white)
    found = classify_mishra_2012(
        cells=cells, blood_platelets_1e9_per_l=200, blood_white_cells_1e9_per_l=6, activation=activation
    )
    assert found.letters == letters, row  # Mishra 2006 and 2012 as in PMC8044532, exact


@pytest.mark.parametrize(
    ("red_cells_frac", "neutrophils_frac", "signs"),
    [(0.005, 0.005, "L- R- A-"), (0.015, 0.02, "L+ R+ A-"), (0.01, 0.01, "L- R- A-")],
)
def test_signs_meet_the_worked_example(red_cells_frac: float, neutrophils_frac: float, signs: str) -> None:
    # C102, Mautner 2015 as in PMC8044532 table 1: red cells 0.5 % and 1.5 %, white cells by neutrophils at 1 %
    found = classify_mautner_2015(
        volume_ml=4,
        platelets_1e9_per_l=1000,
        neutrophils_of_white_cells_frac=neutrophils_frac,
        red_cells_frac=red_cells_frac,
        activation=Activation.NONE,
    )
    assert found.letters == f"P 1000000/µL x 4 mL {signs}"
    assert "not clear" in found.boundary


@pytest.mark.parametrize(
    ("platelets", "group"), [(502, "low"), (503, "intermediate"), (1729, "intermediate"), (1730, "high")]
)
def test_the_rabbit_study_names_its_groups_and_that_it_is_one(platelets: float, group: str) -> None:
    found = classify_weibrich_2004(platelets)
    assert found.letters == group  # C103, Weibrich 2004, exact
    assert "no rule for people" in found.rule


@pytest.mark.parametrize(("white", "letters"), [(7.0, "rich"), (6.5, "poor"), (0.0, "poor")])
def test_rich_and_poor_are_told_with_their_rule(white: float, letters: str) -> None:
    found = classify_white_cells(cells=product(white_cells_1e9_per_l=white), blood_white_cells_1e9_per_l=6.5)
    assert found.letters == letters
    assert "undiluted blood" in found.rule


def test_red_cell_bands_are_called_a_local_choice() -> None:
    assert [classify_red_cells(red).letters for red in (0.05, 0.1, 0.5, 0.6)] == ["few", "some", "some", "many"]
    assert "Local choice" in classify_red_cells(0.05).rule


@given(red=some.floats(0.003, 2.5), white=some.floats(0.1, 90))
def test_no_slip_of_a_thousand_is_ever_classified(red: float, white: float) -> None:
    counted_cells(platelets_1e9_per_l=1000, red_cells_1e12_per_l=red, white_cells_1e9_per_l=white)
    for slip in (1e3, 1e-3):
        with pytest.raises(Refusal, match="1e12/L"):
            counted_cells(platelets_1e9_per_l=1000, red_cells_1e12_per_l=red * slip, white_cells_1e9_per_l=white)
        with pytest.raises(Refusal, match="1e9/L"):
            counted_cells(platelets_1e9_per_l=1000, red_cells_1e12_per_l=red, white_cells_1e9_per_l=white * slip)


def test_red_cells_in_the_unit_of_white_cells_never_reach_a_letter() -> None:
    with pytest.raises(OutOfRange, match=r"is 0\.1;"):
        ProductCells(platelets_1e9_per_l=1200, red_cells_1e12_per_l=100, white_cells_1e9_per_l=5)
    with pytest.raises(OutOfRange, match="5000/µL is 5"):
        ProductCells(platelets_1e9_per_l=1200, red_cells_1e12_per_l=0.1, white_cells_1e9_per_l=5000)


def test_every_class_prints_the_units_of_what_it_was_made_from() -> None:
    found = classify_magalon_2016(dose_1e9=4.8, recovery_frac=0.7, cells=CLEAN, activation=Activation.NONE)
    assert {(given_.name, given_.unit) for given_ in found.inputs} >= {
        ("red cells", "1e12/L"),
        ("white cells", "1e9/L"),
    }
    assert "Magalon" in found.scheme
    assert "memory" in found.scheme  # its cut-offs were not seen
