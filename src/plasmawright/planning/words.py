"""What a plan says in plain words: its line, what binds it, its cautions and warnings."""

from dataclasses import replace

from plasmawright.parameters.sets import ParameterSet
from plasmawright.parameters.table import rows, value
from plasmawright.planning.goal import Goal, hematocrit_row
from plasmawright.planning.options import CHANCE_AIM
from plasmawright.planning.plan import Plan
from plasmawright.planning.visit import Product, Visit
from plasmawright.preparation.assumptions import Assumed, assumed_in
from plasmawright.preparation.protocol import Preparation, Resuspend

OLD_COUNT_DAYS = 28
# Below this a chance is as good as none, and the share that is reached says more.
CHANCE_TOLD = 0.05


def words_for(kind: str, plan: Plan, *, wish_share: float, volume_share: float) -> str:
    """Return the plan in one line."""
    nearest = (
        f"{wish_share:.0%} of each wish"
        if volume_share >= 1
        else (f"{wish_share:.0%} of each wish, {volume_share:.0%} of the volumes")
    )
    draw = f"{plan.tubes} tube{'s' if plan.tubes > 1 else ''}, {plan.blood_ml:.0f} mL of blood"
    spins = f"{plan.soft_rpm:.0f} rpm for {plan.soft_minutes:g} min, then {plan.hard_rpm:.0f} for {plan.hard_minutes:g}"
    chance = (
        f"chance {plan.chance_sized:.0%}"
        if plan.chance_sized >= CHANCE_TOLD
        else f"reaches {plan.share_reached:.0%} of it"
    )
    lead = {
        "chosen": "Draw",
        "less blood": "Less blood, less sure: draw",
        "more blood": "More blood, surer: draw",
        "quicker": "Quicker, less sure: draw",
        "slower": "Slower, surer: draw",
        "look": "Short spin, look, finish: draw",
        "nearest": f"The most that is likely ({nearest}): draw",
    }[kind]
    if plan.look is not None:
        added = " to ".join(
            f"{minutes:g}"
            for minutes in sorted({minutes for _, minutes in plan.look.then})[:: max(1, len(plan.look.then) - 1)]
        )
        spins = (
            f"{plan.soft_rpm:.0f} rpm for {plan.soft_minutes:g} min, look, add {added} min, "
            f"then {plan.hard_rpm:.0f} for {plan.hard_minutes:g}"
        )
    return f"{lead} {draw}; {spins}; {plan.minutes_total:.0f} min in all; {chance}."


def binding_of(visit: Visit, goal: Goal, plan: Plan) -> str:
    """Return what limits the plan, in words."""
    if plan.chance_sized >= CHANCE_AIM:
        return "Nothing binds: volumes and platelet wishes are likely to be met."
    ceiling_1e9_per_l = plan.blood_ml * _count(plan) / plan.leave_ml
    if goal.needed_1e9_per_l is not None and goal.needed_1e9_per_l > ceiling_1e9_per_l:
        return (
            f"The blood itself: {plan.blood_ml:.0f} mL hold no more than "
            f"{plan.blood_ml * _count(plan) / 1e3:.1f} billion platelets, and the wishes ask for "
            f"{goal.needed_1e9_per_l * plan.leave_ml / 1e3:.1f} in {plan.leave_ml:.1f} mL."
        )
    bench = visit.bench
    if plan.tubes >= bench.tubes_max:
        if bench.max_blood_ml is not None and bench.max_blood_ml < (bench.tubes_max + 1) * bench.blood_ml:
            return f"The blood you allow: {bench.max_blood_ml:g} mL."
        if bench.places <= bench.tubes_at_hand:
            return f"The rotor: {bench.places} places."
        return f"The tubes at hand: {bench.tubes_at_hand}."
    return "The blood drawn: more tubes would reach more."


def _count(plan: Plan) -> float:
    """Return the blood's platelets in 1e9/L, from the plan's own fold."""
    middle = len(plan.fold) // 2
    return float(plan.rich_1e9_per_l[middle] / plan.fold[middle])


def assumed_of(visit: Visit, base: Preparation, parameters: ParameterSet) -> tuple[Assumed, ...]:
    """Return everything the plan stands on that was not given."""
    found = list(assumed_in(replace(base, steps=(Resuspend(),)), parameters))
    left_out = {
        "blood.hematocrit_frac": (visit.blood.hematocrit_frac, hematocrit_row(visit)),
        "blood.platelets_1e9_per_l": (visit.blood.platelets_1e9_per_l, "population_platelets_1e9_per_l"),
    }
    for name, (given, row_name) in left_out.items():
        if given is None:
            row = rows()[row_name]
            found.insert(0, Assumed(name=name, value=row.value, unit=row.unit, source=row.citation, spread=row.spread))
    for row in rows().values():
        if row.table == "planning":
            found.append(Assumed(name=row.name, value=row.value, unit=row.unit, source=row.citation, spread=row.spread))
    return tuple(found)


def warnings_of(visit: Visit, goal: Goal, plan: Plan) -> tuple[str, ...]:
    """Return what a person must know before acting on the plan."""
    found = [
        "Every number here is predicted, not counted. White and red cells are known to an order of magnitude only."
    ]
    missing = [
        name
        for name, given in (
            ("haematocrit", visit.blood.hematocrit_frac),
            ("platelets", visit.blood.platelets_1e9_per_l),
        )
        if given is None
    ]
    if missing:
        found.append(f"Not counted: {' and '.join(missing)}. A population stands in, and every interval is wider.")
    age = visit.blood.counted_days_ago
    if age is not None and age > OLD_COUNT_DAYS:
        found.append(f"The count is {age:g} days old: it is given the whole of the person's own variation.")
    pooled_ml = plan.concentrated_fold * plan.leave_ml
    found.append(
        f"The hard spin concentrates red cells about {plan.concentrated_fold:.0f} times: {pooled_ml:.0f} mL become "
        f"{plan.leave_ml:.1f}. What the eye cannot see after the first spin can break the limit after the second."
    )
    left = float(sorted(plan.poor_left_frac)[len(plan.poor_left_frac) // 2])
    if left > value("platelets_left_in_poor_frac"):
        found.append(
            f"{left:.0%} of the plasma's platelets stay in the platelet-poor plasma: lay out more second tubes, so "
            "that their columns are shorter, or use a rotor that may spin harder."
        )
    if visit.rotor.angle_deg < 90:
        found.append(
            "Fixed-angle rotor: an approximation, not validated until this clinic's own counts say otherwise. The stop "
            "is set farther from the cells; the pellet lies on the outer wall, towards the bottom."
        )
    if visit.volume_ml(Product.PPP) and plan.chance_all_met < CHANCE_AIM and goal.needed_1e9_per_l is None:
        found.append("The plasma may not fill every platelet-poor site.")
    if plan.tubes % 2 and plan.soft_load.blanks:
        found.append("An odd number of tubes: fill the blanks as listed before the spin.")
    return tuple(found)
