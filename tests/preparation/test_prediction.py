"""One blood through one protocol: what the prediction promises whoever reads it."""

import copy
import json
import math
from dataclasses import replace
from itertools import pairwise
from typing import Any  # a document as printed is nested plain data of any kind

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as some
from tests.science.columns import Document, example, one_spin

from plasmawright.errors import OutOfRange, PlasmawrightError, Refusal
from plasmawright.parameters.sets import central, drawn
from plasmawright.preparation import prediction, run
from plasmawright.preparation.prediction import Outcome, predict
from plasmawright.preparation.reading import preparation_from

Printed = dict[str, Any]


def outcome_of(document: Document, *, draws: int = 1, seed: int = 1) -> Outcome:
    return predict(preparation_from(document), central() if draws == 1 else drawn(count=draws, seed=seed))


def printed(document: Document, *, draws: int = 1, seed: int = 1) -> Printed:
    return outcome_of(document, draws=draws, seed=seed).as_document()


def recovery(document: Document) -> float:
    return float(printed(document)["after_first_spin"]["recovery_frac"])


def numbers_in(value: object) -> list[float]:
    """Every number of a nested document."""
    if isinstance(value, dict):
        return [number for held in value.values() for number in numbers_in(held)]
    if isinstance(value, list | tuple):
        return [number for held in value for number in numbers_in(held)]
    return [float(value)] if isinstance(value, int | float) and not isinstance(value, bool) else []


def add_up(outcome: Outcome, volume_ml: float) -> None:
    """Platelets close to 1e-9, fluid to six digits of a mL, and nothing is negative or not a number."""
    document: Printed = outcome.as_document()
    assert document["ledger"]["error_frac"] < 1e-9
    assert all(math.isfinite(number) for number in numbers_in(document))
    parts = [part for part in document["products"].values() if part is not None]
    assert min(numbers_in(parts)) >= 0
    assert sum(part.get("volume_ml", 0) for part in parts) == pytest.approx(volume_ml, rel=1e-4)
    assert sum(part["platelets_1e9"] for part in parts) == pytest.approx(float(outcome.platelets_1e9_in[0]), rel=1e-4)


def test_the_contracts_example_closes() -> None:
    document = printed(example())
    assert set(document) >= {"after_first_spin", "products", "ledger", "assumed", "warnings"}
    assert set(document["products"]) == {"prp", "ppp", "left_with_cells", "lost_in_handling"}
    add_up(outcome_of(example()), volume_ml=40.0)
    # 4 tubes of 8.5 mL at 250e9/L
    assert document["ledger"]["platelets_1e9_in"] == pytest.approx(4 * 8.5 * 0.250)
    assert document["products"]["prp"]["volume_ml"] == pytest.approx(3.4, abs=1e-3)
    bounded = document["products"]["prp"]
    # recovery and fold are one number said twice: fold = recovery V_blood / V_product, at most V_blood / V_product
    assert bounded["fold"] == pytest.approx(bounded["recovery_frac"] * 34 / bounded["volume_ml"], rel=1e-4)
    assert bounded["fold"] < 34 / 3.4
    assert bounded["platelets_1e9_per_l"] == pytest.approx(250 * bounded["fold"], rel=1e-4)


def test_the_plasma_of_the_first_spin_is_below_what_plasma_there_is() -> None:
    after = printed(example())["after_first_spin"]
    assert after["plasma_ml"] < 4 * (8.5 * 0.58 + 1.5)
    assert 0.5 < after["bed_hematocrit_frac"] < 1
    # a bed of the red cells at that packing, in this tube, reaches to the interface
    bed_ml = 8.5 * 0.42 / after["bed_hematocrit_frac"]
    height_mm = bed_ml * 1e3 / (math.pi * 6.5**2) + 6.5 / 3
    assert after["interface_mm"] == pytest.approx(height_mm, abs=0.6)


def test_a_file_with_one_spin_ends_with_the_plasma_withdrawn() -> None:
    document = printed(one_spin())
    after, products = document["after_first_spin"], document["products"]
    assert products["ppp"] is None
    assert products["prp"]["volume_ml"] == pytest.approx(after["plasma_ml"], rel=1e-5)
    assert products["prp"]["recovery_frac"] == pytest.approx(after["recovery_frac"], rel=1e-5)
    assert products["lost_in_handling"]["platelets_1e9"] == 0


@pytest.fixture(scope="module")
def intervals() -> Printed:
    return printed(example(), draws=128)


def test_draws_turn_every_number_into_an_ordered_interval(intervals: Printed) -> None:
    told = [intervals["after_first_spin"], *filter(None, intervals["products"].values())]
    for name, interval in [pair for part in told for pair in part.items()]:
        assert set(interval) == {"p05", "p50", "p95"}, name
        assert interval["p05"] <= interval["p50"] <= interval["p95"], name
    assert intervals["products"]["prp"]["recovery_frac"]["p05"] < intervals["products"]["prp"]["recovery_frac"]["p95"]
    assert intervals["ledger"]["error_frac"] < 1e-9


def test_the_answer_without_draws_lies_inside_the_interval(intervals: Printed) -> None:
    alone = printed(example())
    for name, value in alone["after_first_spin"].items():
        interval = intervals["after_first_spin"][name]
        assert interval["p05"] <= value <= interval["p95"] or value == pytest.approx(interval["p50"], rel=0.01), name


def test_a_seed_gives_the_same_answer_and_another_seed_nearly_the_same(intervals: Printed) -> None:
    assert printed(example(), draws=128) == intervals
    other = printed(example(), draws=128, seed=2)
    assert other != intervals
    middle = [one["products"]["prp"]["recovery_frac"]["p50"] for one in (intervals, other)]
    assert middle[0] == pytest.approx(middle[1], abs=0.03)


def test_the_number_of_threads_does_not_matter(intervals: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(prediction, "THREADS", 1)
    assert printed(example(), draws=128) == intervals


OPTIONAL = ("white_cells_1e9_per_l", "lymphocytes_frac", "monocytes_frac", "mean_platelet_volume_fl", "temperature_c")


def test_what_was_left_out_is_listed_and_what_was_given_is_not() -> None:
    given_all = example()
    assert set(OPTIONAL) <= set(given_all["blood"])
    left_out = copy.deepcopy(given_all)
    for name in OPTIONAL:
        del left_out["blood"][name]
    listed = [{item["name"] for item in printed(one)["assumed"]} for one in (given_all, left_out)]
    wanted = {f"blood.{name}" for name in OPTIONAL}
    assert not wanted & listed[0]
    assert wanted <= listed[1]
    for item in printed(left_out)["assumed"]:
        assert item["source"], item["name"]
        assert item["unit"], item["name"]


def test_spreads_of_reading_are_listed_only_where_draws_are_made(intervals: Printed) -> None:
    drawing = {item["name"] for item in intervals["assumed"]}
    alone = {item["name"] for item in printed(example())["assumed"]}
    assert "stop_error_mm" in drawing - alone
    assert "steps.handling_frac" in drawing - alone  # given: a centre without draws, a spread with them


def test_leaving_out_what_could_be_known_widens_the_interval() -> None:
    """A white count is known to 5 %, a population's to 25 %: seen in the white cells of the product."""
    known = one_spin()
    unknown = copy.deepcopy(known)
    del unknown["blood"]["white_cells_1e9_per_l"]

    def width(document: Document) -> float:
        interval = printed(document, draws=256)["products"]["prp"]["white_cells_1e9_per_l"]
        return float(interval["p95"] - interval["p05"])

    assert width(unknown) > width(known)


def test_a_taller_column_keeps_platelets_back_at_the_same_soft_spin() -> None:
    """Its red cells have farther to fall: at 100 g x 6 min they have not cleared the plasma yet."""
    found = [
        recovery(one_spin(blood_ml=blood_ml, anticoagulant_ml=blood_ml * 1.5 / 8.5, rcf=100, minutes=6))
        for blood_ml in (4.0, 6.0, 8.5)
    ]
    assert found[0] > found[1] > found[2]


def test_the_red_cell_interface_falls_with_time_until_the_bed_is_packed() -> None:
    heights = [printed(one_spin(minutes=m, ramp_s=0))["after_first_spin"]["interface_mm"] for m in (1, 2, 4, 8, 16, 32)]
    assert all(before >= after - 1e-3 for before, after in pairwise(heights))
    assert heights[0] > heights[-1] + 10


@pytest.mark.parametrize(("rcf", "minutes"), [(100, 5), (160, 10), (900, 10)])
def test_a_stop_higher_above_the_cells_never_recovers_more(rcf: float, minutes: float) -> None:
    found = [recovery(one_spin(rcf=rcf, minutes=minutes, above_cells_mm=mm)) for mm in (0, 0.5, 1, 2, 4, 8)]
    assert all(nearer >= farther for nearer, farther in pairwise(found))


def test_the_slope_with_the_stop_is_what_moving_the_stop_does() -> None:
    """d(recovery)/d(stop) against two predictions half a millimetre apart."""
    slope = printed(one_spin(above_cells_mm=3))["after_first_spin"]["recovery_per_mm_frac"]
    nearer, farther = (recovery(one_spin(above_cells_mm=mm)) for mm in (2.75, 3.25))
    assert slope == pytest.approx((farther - nearer) / 0.5, rel=1e-3)
    assert slope < 0


def test_recovery_has_one_maximum_in_time() -> None:
    """Too short leaves platelets among red cells, too long sends them into the buffy coat."""
    found = np.array([recovery(one_spin(rcf=300, minutes=m)) for m in (1, 2, 3, 5, 8, 12, 20, 30)])
    best = int(found.argmax())
    assert 0 < best < len(found) - 1
    assert (np.diff(found[: best + 1]) > 0).all()
    assert (np.diff(found[best:]) < 0).all()


def test_more_temperature_settles_faster() -> None:
    """Water is 40 % more viscous at 10 °C than at 25 °C."""
    cold, warm = one_spin(minutes=4), one_spin(minutes=4)
    cold["blood"]["temperature_c"], warm["blood"]["temperature_c"] = 10, 25
    heights = [printed(one)["after_first_spin"]["interface_mm"] for one in (cold, warm)]
    assert heights[0] > heights[1] + 1


def test_a_fixed_angle_says_not_validated() -> None:
    tilted = one_spin()
    tilted["rotor"]["angle_deg"] = 45
    assert any("not validated" in warning for warning in printed(tilted)["warnings"])
    assert not any("not validated" in warning for warning in printed(one_spin())["warnings"])


def test_a_force_quoted_at_the_top_is_refused_when_the_bottom_passes_the_limit() -> None:
    """2500 g at the top of the pooled plasma is more than 3000 at the bottom, which only the prediction can know."""
    document = example()
    document["steps"][2].update(rcf=2500, rcf_at="top")
    with pytest.raises(Refusal) as caught:
        printed(document)
    assert caught.value.field == "steps.2.rcf"
    assert "3000" in caught.value.limit
    document["steps"][2]["rcf"] = 1500
    add_up(outcome_of(document), volume_ml=40)


def test_a_pooled_column_taller_than_the_radius_is_refused_wherever_the_force_is_quoted() -> None:
    """10 mL in a bore of 6 mm stand 350 mm high: there is no such rotor, and no radius at their top."""
    for place in ("bottom", "middle", "top"):
        document = example()
        document["tubes"]["conical"].update(inner_diameter_mm=6.0, capacity_ml=15.0)
        document["steps"][2]["rcf_at"] = place
        with pytest.raises(Refusal) as caught:
            printed(document)
        assert caught.value.field == "rotor.bottom_radius_mm"


def test_plasma_can_be_drawn_off_its_own_pellet() -> None:
    """After a hard spin the red cells that came along lie in the pellet: their interface is the bottom of the tube."""
    document = example()
    document["steps"] = [*document["steps"][:3], {**document["steps"][1], "value": 5.0}]
    add_up(outcome_of(document), volume_ml=40)
    once, twice = printed(one_spin())["products"]["prp"], printed(document)["products"]["prp"]
    assert 0 < twice["volume_ml"] < once["volume_ml"]
    assert twice["platelets_1e9_per_l"] < once["platelets_1e9_per_l"]


def test_spinning_twice_half_as_long_is_spinning_once() -> None:
    """What the bed had packed to in the first spin must not let it pack closer in the second."""
    halves = one_spin(minutes=5, ramp_s=0)
    halves["steps"].insert(0, copy.deepcopy(halves["steps"][0]))
    assert recovery(halves) == pytest.approx(recovery(one_spin(minutes=10, ramp_s=0)), abs=1e-4)


@some.composite
def any_sequence(draw: some.DrawFn) -> Document:
    """Steps in any order a reader may accept, on the example's blood and tubes."""
    document = example()
    document["blood"]["hematocrit_frac"] = draw(some.floats(0.05, 0.7))
    document["blood"]["platelets_1e9_per_l"] = draw(some.floats(1, 3000))
    document["rotor"].update(max_rcf=30_000, angle_deg=draw(some.sampled_from([90, 45])))
    document["tubes"]["conical"]["capacity_ml"] = draw(some.sampled_from([15.0, 40.0]))
    spins = some.fixed_dictionaries(
        {
            "do": some.just("spin"),
            "rcf": some.floats(5, 5000),
            "minutes": some.floats(0.1, 30),
            "rcf_at": some.sampled_from(["bottom", "middle", "top"]),
        }
    )
    withdrawals = some.one_of(
        [
            some.fixed_dictionaries({"stop": some.just(stop), "value": some.floats(low, high)})
            for stop, low, high in (("above_cells_mm", 0, 20), ("with_buffy_coat", 0, 20), ("volume_ml", 0.05, 9))
        ]
    ).map(lambda step: {"do": "withdraw", "pool_into": "conical", **step})
    removals = some.fixed_dictionaries({"do": some.just("remove_supernatant"), "leave_ml": some.floats(0.1, 10)})
    resuspensions = some.fixed_dictionaries({"do": some.just("resuspend"), "handling_frac": some.floats(0.05, 1)})
    # rounds in an order that may follow, with anything left out or done again
    document["steps"] = draw(some.lists(spins, min_size=1, max_size=2))
    document["steps"].append(draw(withdrawals))
    for _ in range(draw(some.integers(0, 2))):
        document["steps"] += draw(some.lists(spins, min_size=1, max_size=2))
        document["steps"] += draw(
            some.one_of(
                withdrawals.map(lambda step: [step]),
                some.tuples(removals, resuspensions).map(list),
                removals.map(lambda step: [step]),
            )
        )
    return document


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(document=any_sequence())
def test_the_ledger_closes_for_any_sequence_of_steps(document: Document) -> None:
    try:
        preparation = preparation_from(document)
    except PlasmawrightError:
        assume(False)
    try:
        outcome = predict(preparation, central())
    except PlasmawrightError as refusal:
        event(f"refused: {str(refusal).split(' is ')[0]}")
        return
    event(f"{len(preparation.steps)} steps")
    add_up(outcome, volume_ml=40.0)
    assert json.loads(json.dumps(outcome.as_document(), allow_nan=False))


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(document=any_sequence(), seed=some.integers(0, 2**31))
def test_the_ledger_closes_on_every_draw(document: Document, seed: int) -> None:
    try:
        outcome = outcome_of(document, draws=16, seed=seed)
    except PlasmawrightError:
        assume(False)
    assert np.abs(outcome.platelets_1e9_out / outcome.platelets_1e9_in - 1).max() < 1e-9
    assert all(math.isfinite(number) for number in numbers_in(outcome.as_document()))
    for product in filter(None, outcome.products.values()):
        assert min(float(values.min()) for values in product.values()) >= 0


@pytest.mark.slow
def test_a_grid_of_1600_cells_breaks_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = recovery(one_spin())
    monkeypatch.setattr(run, "FINE_GRID", (0.01, 1600, 1600))
    add_up(outcome_of(one_spin()), volume_ml=40)
    assert recovery(one_spin()) == pytest.approx(coarse, abs=0.01)


@pytest.mark.slow
def test_sixteen_thousand_draws_break_nothing() -> None:
    """A short spin of a short column, since only their number is in question; and more than there are is refused."""
    document = one_spin(blood_ml=3.5, anticoagulant_ml=0.6, rcf=100, minutes=5)
    wide = outcome_of(document, draws=16_384)
    assert all(math.isfinite(number) for number in numbers_in(wide.as_document()))
    few = outcome_of(document, draws=512)
    middles = [np.median(one.after_first_spin["interface_mm"]) for one in (wide, few)]
    assert middles[0] == pytest.approx(middles[1], rel=0.01)
    with pytest.raises(OutOfRange):
        drawn(count=2**20 + 1, seed=1)


def test_weights_move_the_interval() -> None:
    """Draws that a learned set counts for nothing do not speak."""
    parameters = drawn(count=64, seed=1)
    preparation = preparation_from(one_spin())
    aggregation = parameters.column("red_cell_aggregation")
    heavy = (aggregation > np.median(aggregation)).astype(float)
    told = [
        predict(preparation, replace(parameters, weights=weights)).as_document()["after_first_spin"]
        for weights in (heavy, 1 - heavy)
    ]
    # stronger aggregation settles faster
    assert told[0]["interface_mm"]["p50"] < told[1]["interface_mm"]["p50"]  # type: ignore[index]
