"""The answers of the Plan page: at once with the middle of every belief, then with all draws."""

from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import Any

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet, central, drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.goal import base_preparation, goal_of, stretched
from plasmawright.planning.person import cautions_of, ceiling_words
from plasmawright.planning.plan import Plan
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.planning.words import assumed_of, warnings_of
from plasmawright.web.asked import Asked

DRAWS, SEED = 512, 1
Document = dict[str, Any]
"""An answer as ``plan --json`` prints it, with what the drawing (``layers``) and the map (``search``) need."""


@dataclass(frozen=True, kw_only=True)
class Reckoned:
    """An answer with every draw, and the question it answers."""

    asked: Asked
    answer: Document


@cache
def middle() -> ParameterSet:
    """Return the centre of every belief."""
    return central()


@cache
def beliefs() -> ParameterSet:
    """Return the draws every interval of the page comes from."""
    return drawn(count=DRAWS, seed=SEED)


def point_answer(asked: Asked) -> Document:
    """Return the settled plan with the middle of every belief: single numbers, at once.

    Raises
    ------
    Refusal
        If nothing is settled yet, or the settled spins cannot be done with this visit.
    """
    if asked.settled is None or asked.whole_spin is None:
        raise Refusal("plan", "not chosen", "the spins must be chosen first", "Press Plan.")
    plan = revised_plan(asked.visit, asked.whole_spin, middle(), margin_mm=asked.margin_mm)
    told: Document = {**plan.as_document()}
    if asked.look:
        told |= {"soft": {**told["soft"], "minutes": asked.settled.soft_minutes}, "look": {"then": list(asked.look)}}
    return {"chosen": told, "layers": asdict(plan.layers)}


def chosen_answer(asked: Asked) -> Reckoned:
    """Choose anew with every draw; where the plan that stood looks half-way, its like is taken."""
    found = choose_plan(asked.visit, beliefs(), margin_mm=asked.margin_mm)
    plans = (found.chosen, *found.alternatives)
    taken = next((plan for plan in plans if plan.look is not None), found.chosen) if asked.look else found.chosen
    others = tuple(plan for plan in plans if plan is not taken)
    answer = replace(found, chosen=taken, alternatives=others)
    return Reckoned(asked=asked, answer=answer.as_document())


def interval_answer(asked: Asked, settled: Settled, choice: Reckoned | None) -> Reckoned:
    """Return the settled plan with every draw.

    Alternatives and map stand as the last ``choice`` found them while the visit is the same; the classes
    do not, since another stop may move the product into another one.
    """
    plan = revised_plan(asked.visit, settled, beliefs(), margin_mm=asked.margin_mm)
    answer = {
        "alternatives": [],
        **_of_choice(choice, asked, settled),
        **_said_of(asked, plan),
    }
    return Reckoned(asked=asked, answer=answer)


def _said_of(asked: Asked, plan: Plan) -> Document:
    """Return the plan, and what must be said beside it."""
    goal = goal_of(asked.visit).at_margin(plan.margin_mm)
    believed = stretched(asked.visit, beliefs())
    ceiling = {"fold_max": plan.blood_ml / plan.leave_ml, "words": ceiling_words(plan)}
    return {
        "chosen": plan.as_document(),
        "layers": asdict(plan.layers),
        "cautions": [caution.as_document() for caution in cautions_of(asked.visit, plan)],
        "warnings": list(warnings_of(asked.visit, goal, plan)),
        "ceiling": ceiling,
        "assumed": [item.as_document() for item in assumed_of(asked.visit, base_preparation(asked.visit), believed)],
    }


def _of_choice(choice: Reckoned | None, asked: Asked, settled: Settled) -> Document:
    """Return the choice's answer, with all of its plans but the settled one as alternatives, if it is of this visit."""
    if choice is None or choice.asked.document != asked.document:
        return {}
    plans = [choice.answer["chosen"], *choice.answer["alternatives"]]
    return {
        **{key: value for key, value in choice.answer.items() if key != "classes_predicted"},
        "alternatives": [plan for plan in plans if plan.get("look") or Settled.from_document(plan) != settled],
    }
