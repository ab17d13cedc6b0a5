"""Reading a visit: each thing that may be wrong is one refusal that names field, value, limit and remedy."""

import pytest
from tests.planning.visits import a_visit, visit_document

from plasmawright.errors import Refusals
from plasmawright.planning.reading import visit_from
from plasmawright.planning.visit import Product, Tolerance, WhiteCells


def test_the_contracts_example_reads_as_it_is_written() -> None:
    visit = a_visit()
    assert visit.patient.red_cell_tolerance is Tolerance.LOW
    assert [site.product for site in visit.sites] == [Product.PRP, Product.PPP]
    assert visit.sites[1].id == "s2", "made when left out"
    assert visit.limits.white_cells is WhiteCells.POOR
    assert visit.bench.tubes_max == 8


def test_everything_that_may_be_left_out_may_be_left_out() -> None:
    visit = a_visit(
        blood=None, limits=None, patient__reference=None, patient__red_cell_tolerance=None,
        bench__second_tubes_at_hand=None, bench__max_blood_ml=None, bench__temperature_c=None,
        bench__stop_spread_mm=None, sites__0__id=None, sites__0__platelets_1e9=None, sites__0__side=None,
    )  # fmt: skip
    assert visit.blood.hematocrit_frac is None
    assert visit.bench.second_tubes_at_hand == 4


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"patient__weight_kg": None}, "patient.weight_kg", "must be given"),
        ({"patient__height_cm": 1.71}, "patient.height_cm", "Metres? Write 171"),
        ({"patient__sex_for_blood_volume": "woman"}, "patient.sex_for_blood_volume", '"female"'),
        ({"blood__hematocrit_frac": 41}, "blood.hematocrit_frac", "A percentage? Write 0.41"),
        ({"blood__platelets_1e9_per_l": 232000}, "blood.platelets_1e9_per_l", "is 232"),
        ({"blood__platelets": 232}, "blood.platelets", "platelets_1e9_per_l"),
        ({"bench__tubes_at_hand": 0}, "bench.tubes_at_hand", "between 1 and"),
        ({"bench__tube": "glass"}, "bench.tube", "collection"),
        ({"bench__blood_ml": 12.0}, "bench.blood_ml", "the tube holds 11 mL"),
        ({"tubes__collection__inner_diameter_mm": 7.5}, "bench.blood_ml", "would reach the axis"),
        ({"bench__max_blood_ml": 5.0}, "bench.max_blood_ml", "must allow one tube"),
        ({"sites__0__volume_ml": float("nan")}, "sites.0.volume_ml", "must be a number"),
        ({"sites__0__volume_ml": -1}, "sites.0.volume_ml", "between"),
        ({"sites__1__platelets_1e9": 2.0}, "sites.1.platelets_1e9", "platelet-rich plasma only"),
        ({"sites": []}, "sites", "1 to 24"),
        ({"sites__0__id": "s2"}, "sites.1.id", "share"),
        ({"sites__0__name": "x" * 500}, "sites.0.name", "at most 120"),
        ({"limits__red_cells_1e12_per_l": 100}, "limits.red_cells_1e12_per_l", "0.1"),
        ({"rotor__bottom_radius_mm": 16}, "rotor.bottom_radius_mm", "Write 160"),
        ({"surprise": {}}, "surprise", "nearest known key"),
    ],
)
def test_one_thing_wrong_is_one_refusal(changes: dict[str, object], field: str, words: str) -> None:
    with pytest.raises(Refusals) as refused:
        visit_from(visit_document(**changes))
    found = refused.value.found
    assert [one.field for one in found] == [field]
    assert words in str(found[0])
