"""One option as a plan: loads, expected numbers, shares and answers in words."""

from math import ceil

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.table import value
from plasmawright.planning.goal import Goal
from plasmawright.planning.load import load_of
from plasmawright.planning.options import needed_1e9_per_l
from plasmawright.planning.plan import Filled, Plan
from plasmawright.planning.soft import Seen, Soft
from plasmawright.planning.syringe import Choice, Syringe, fill_syringe
from plasmawright.planning.visit import Product, Visit, WhiteCells
from plasmawright.preparation.prediction import Layers, six_digits
from plasmawright.preparation.run import bottom_radius_mm, platelets_1e9
from plasmawright.preparation.sample import WHITES
from plasmawright.science.rotor import relative_force, speed_from_rpm_rad_s
from plasmawright.science.settling_kernel import RED
from plasmawright.science.tube import height_m, volume_m3
from plasmawright.science.uncertainty import quantiles

Array = NDArray[np.float64]

LIKELY, UNLIKELY = 0.8, 0.2
GRADUATION_ML = 0.5


def build_plan(visit: Visit, goal: Goal, soft: Soft, choice: Choice, *, words: str, binding: str) -> Plan:
    """Carry ``choice`` through to the syringe with every draw."""
    sample, weights = soft.setting.sample, soft.setting.parameters.weights / soft.setting.parameters.weights.sum()
    filled = fill_syringe(visit, goal, soft, choice)
    enough = filled.fills(goal)
    sites, met = _sites(visit, filled, enough=enough, wish_share=choice.wish_share, weights=weights)
    sized_for = needed_1e9_per_l(goal, soft)
    entered = platelets_1e9(sample.per_tube_m3, sample) * choice.tubes
    red_ok = filled.red_1e12_per_l <= _red_limit(goal)
    white_poor = filled.white_1e9_per_l <= sample.white_cells_1e9_per_l
    return Plan(
        words=words,
        tubes=choice.tubes,
        blood_ml=choice.tubes * visit.bench.blood_ml,
        anticoagulant_ml=choice.tubes * visit.bench.anticoagulant_ml,
        soft_rcf=soft.rcf,
        soft_rpm=soft.rpm,
        soft_minutes=choice.minutes,
        soft_load=load_of(places=visit.bench.places, tubes=choice.tubes, content_g=_blood_g(visit)),
        margin_mm=goal.margin_mm,
        plasma_ml=choice.seen.plasma_ml,
        interface_mm=choice.seen.interface_m * 1e3,
        mark_ml=_mark_ml(visit, choice.seen, goal),
        hard_tubes=choice.hard.tubes,
        hard_rcf=_rcf_at_bottom(visit, choice.hard.rpm),
        hard_rpm=choice.hard.rpm,
        hard_minutes=choice.hard.minutes,
        hard_load=load_of(places=visit.bench.places, tubes=choice.hard.tubes, content_g=filled.second_tube_g),
        leave_ml=filled.leave_ml,
        leave_ml_sum=filled.leave_ml_sum,
        poor_1e9_per_l=filled.poor_1e9_per_l,
        poor_left_frac=filled.poor_1e9 / np.maximum(choice.tubes * choice.seen.platelets_1e9, 1e-9),
        rich_1e9_per_l=filled.rich_1e9_per_l,
        rich_red_1e12_per_l=filled.red_1e12_per_l,
        rich_white_1e9_per_l=filled.white_1e9_per_l,
        recovery_frac=filled.rich_1e9 / entered,
        fold=filled.rich_1e9_per_l / sample.platelets_1e9_per_l,
        concentrated_fold=float(np.median(filled.pooled_ml / filled.rich_ml)),
        sites=sites,
        red_cells=_answered(float(weights @ red_ok)),
        white_cells=_white_answer(goal, float(weights @ white_poor)),
        chance_all_met=met,
        chance_sized=float(weights @ (enough & (filled.rich_1e9_per_l >= sized_for * choice.wish_share))),
        share_reached=float(weights @ (filled.share_filled(goal) * np.minimum(filled.rich_1e9_per_l / sized_for, 1))),
        minutes_total=choice.minutes + choice.look_minutes + choice.hard.minutes + 2 * ramps_min(),
        binding=binding,
        weights=soft.setting.parameters.weights,
        layers=layers_of(choice.seen, goal, soft),
        look=choice.look,
    )


def ramps_min() -> float:
    """Return the minutes a spin takes beside its time at speed."""
    return (value("ramp_up_s") + value("ramp_down_s")) / 60


def _blood_g(visit: Visit) -> float:
    """Return the mass of what stands in one collection tube."""
    bench = visit.bench
    blood_g = bench.blood_ml * value("whole_blood_density_kg_m3") / 1e3
    return blood_g + bench.anticoagulant_ml * value("anticoagulant_density") / 1e3


def _rcf_at_bottom(visit: Visit, speed_rpm: float) -> float:
    radius_m = bottom_radius_mm(visit.tubes[visit.bench.second_tube], visit.rotor) * 1e-3
    return float(relative_force(radius_m=radius_m, speed_rad_s=speed_from_rpm_rad_s(speed_rpm)))


def _sites(
    visit: Visit, filled: Syringe, *, enough: NDArray[np.bool_], wish_share: float, weights: Array
) -> tuple[tuple[Filled, ...], float]:
    """Return what each site gets, and the chance that all volumes and wishes are met together."""
    all_met = enough.copy()
    found = []
    for site in visit.sites:
        count = filled.rich_1e9_per_l if site.product is Product.PRP else filled.poor_1e9_per_l
        given = count * site.volume_ml / 1e3
        chance = None
        if site.platelets_1e9 is not None:
            met = enough & (given >= site.platelets_1e9 * wish_share)
            all_met &= met
            chance = float(weights @ met)
        found.append(Filled(site=site, platelets_1e9=given, chance_met=chance))
    return tuple(found), float(weights @ all_met)


def _red_limit(goal: Goal) -> float:
    wished = goal.red_cells_1e12_per_l
    return wished if wished is not None else value("red_cells_where_usual_1e12_per_l")


def _answered(chance: float) -> str:
    return "likely" if chance >= LIKELY else "unlikely" if chance <= UNLIKELY else "unsure"


def _white_answer(goal: Goal, chance_poor: float) -> str:
    if goal.white_cells is WhiteCells.ANY:
        return "likely"
    return _answered(chance_poor if goal.white_cells is WhiteCells.POOR else 1 - chance_poor)


def _mark_ml(visit: Visit, seen: Seen, goal: Goal) -> float | None:
    """Return the graduation at which to stop, read from the bottom and rounded away from the cells."""
    if not visit.tubes[visit.bench.tube].graduated:
        return None
    content = seen.bench.content
    stop_m = np.median(seen.interface_m) + goal.margin_mm * 1e-3
    below_ml = float(np.median(volume_m3(content.tube, float(stop_m)))) * 1e6
    return six_digits(ceil(below_ml / GRADUATION_ML - 1e-9) * GRADUATION_ML)


def layers_of(seen: Seen, goal: Goal, soft: Soft) -> Layers:
    """Return what a to-scale drawing of the tube needs."""
    parameters = soft.setting.parameters
    content = seen.bench.content
    stop_mm = (seen.interface_m * 1e3) + goal.margin_mm + parameters.column("stop_error_mm")
    low, middle, high = quantiles(stop_mm, parameters.weights, (0.05, 0.5, 0.95))
    mean = np.average(content.phi, axis=0, weights=parameters.weights)
    return Layers(
        filled_mm=float(np.median(height_m(content.tube, content.filled_m3))) * 1e3,
        interface_mm=float(np.median(seen.interface_m)) * 1e3,
        stop_mm=float(middle),
        stop_low_mm=float(low),
        stop_high_mm=float(high),
        red_frac=tuple(map(six_digits, mean[RED])),
        white_frac=tuple(map(six_digits, mean[WHITES].sum(axis=0))),
        platelet_frac=tuple(map(six_digits, mean[1:4].sum(axis=0))),
    )
