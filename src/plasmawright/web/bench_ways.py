"""What each way on from a mishap would give: worked out outside every request, never waited for."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from plasmawright.bench.facts import RunFacts
from plasmawright.bench.mishaps import MISHAPS, Choice, Effect, choices_at, is_pooled
from plasmawright.bench.steps import ORDER, Step
from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.planning.from_here import Here, ways_from_here
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.planning.visit import Visit
from plasmawright.preparation.protocol import Spin
from plasmawright.records.models import Run
from plasmawright.records.selectors.runs import foresight as kept_foresight
from plasmawright.web.bench_thinking import BENCH, Document, Thought, parameters_later
from plasmawright.web.bench_volumes import expected_in_hand_ml, expected_pooled_ml

AWAY = frozenset({Effect.STOP, Effect.DISCARD})
SPINS_AGAIN = frozenset({Effect.SPIN_MORE, Effect.MIX_AND_SPIN})
DOSE_UNKNOWN = "dose unknown"
SPIN_MIN_MINUTES = 1.0


@dataclass(frozen=True, kw_only=True)
class Offered:
    """One choice of a mishap's page.

    Parameters
    ----------
    body
        What choosing it tells: the minutes and the speed to spin, where it spins. Any: numbers and words.
    spin
        The spin in words.
    dose
        Billions of platelets in the product, predicted; empty where nothing is.
    """

    choice: Choice
    body: Mapping[str, Any]
    spin: str
    dose: str


def offered(run: Run, facts: RunFacts) -> tuple[tuple[Offered, ...], bool]:
    """Return the choices of the mishap that waits, as far as they are predicted, and whether more is on its way."""
    waiting = facts.open_mishap
    if waiting is None:
        return (), False
    thought = _thought(run, facts)
    found = (thought.found if thought else None) or {}
    in_hand = _dose_in_hand(run, facts) if ORDER.index(facts.step) > ORDER.index(Step.REST) else ""
    choices = tuple(_offered(choice, facts, found, in_hand=in_hand) for choice in _choices(facts))
    return choices, bool(thought and thought.working)


def _thought(run: Run, facts: RunFacts) -> Thought | None:
    """Return how the question stands; nothing where no spin can change what is in the syringe."""
    if facts.dose_unknown or facts.all_void or ORDER.index(facts.step) > ORDER.index(Step.REST):
        return None
    compute = partial(ways_document, run.plan.visit.document, facts, parameters_later(run))
    return BENCH.about(asker=f"ways {run.code}", ticket=str(facts.position), compute=compute)


def ways_document(
    visit_document: Mapping[str, object], facts: RunFacts, parameters_of_plan: Callable[[], ParameterSet]
) -> Document:
    """Return for each effect that can be predicted its dose (p05, p50, p95) and its spin.

    Before the soft spin the plan's own spins are answered for the tubes that are left; after it the ways from here.
    """
    visit, parameters = visit_from(visit_document), parameters_of_plan()
    named = set() if facts.open_mishap is None else set(facts.open_mishap.tubes)
    left = [tube for tube in facts.usable if tube.number not in named]
    there = {Effect.GO_ON.value: len(facts.usable), Effect.GO_ON_WITHOUT.value: len(left)}
    pooled = is_pooled(facts.step)
    if not facts.spun and not pooled:
        return {effect: _planned(visit, facts, parameters, tubes) for effect, tubes in there.items() if tubes}
    spins = tuple(Spin(rpm=one.rpm, minutes=one.minutes) for one in facts.spun if one.step is Step.SOFT_SPIN)
    asks_without = Effect.GO_ON_WITHOUT in {choice.effect for choice in _choices(facts)}
    tubes = there[Effect.GO_ON_WITHOUT.value if asks_without else Effect.GO_ON.value]
    here = Here(
        tubes=tubes,
        spun=tuple(one for one in spins if one.minutes > 0),
        pooled_ml=expected_pooled_ml(facts) if pooled else None,
        blood_ml=_filled_ml(facts),
    )
    told = [way.as_document() for way in ways_from_here(visit, here, parameters)]
    found = dict(_by_effect(told, pooled=pooled))
    if not pooled:
        for choice in _choices(facts):
            if choice.effect in SPINS_AGAIN and choice.effect.value not in found:
                found |= _by_default(visit, here, facts, parameters, choice)
    return found


def _by_default(
    visit: Visit, here: Here, facts: RunFacts, parameters: ParameterSet, choice: Choice
) -> dict[str, object]:
    """Return what the spin gives that a choice means by itself, where none is worth proposing."""
    meant = _default_spin(choice, facts)
    if meant is None:
        return {}
    spin = Spin(rpm=meant["rpm"], minutes=meant["minutes"])
    spun = (spin,) if choice.effect is Effect.MIX_AND_SPIN else (*here.spun, spin)
    try:
        told = [way.as_document() for way in ways_from_here(visit, replace(here, spun=spun), parameters)]
    except Refusal:
        return {}
    stays = next((way for way in told if not way["spin"] and not way["mix"]), None)
    return {} if stays is None else {choice.effect.value: {**stays, "spin": meant}}


def _choices(facts: RunFacts) -> Sequence[Choice]:
    return () if facts.open_mishap is None else choices_at(MISHAPS[facts.open_mishap.mishap], facts.step)


def _filled_ml(facts: RunFacts) -> float | None:
    """Return the mean of what the tubes hold, where one was told to hold other than planned."""
    if not any(tube.blood_ml for tube in facts.usable):
        return None
    return sum(tube.blood_ml or facts.opening.blood_ml for tube in facts.usable) / len(facts.usable)


def _planned(visit: Visit, facts: RunFacts, parameters: ParameterSet, tubes: int) -> dict[str, object]:
    chosen, filled_ml = facts.opening.plan, _filled_ml(facts)
    if filled_ml is not None:
        visit = replace(visit, bench=replace(visit.bench, blood_ml=filled_ml))
    settled = replace(Settled.from_document(chosen), tubes=tubes)
    plan = revised_plan(visit, settled, parameters, margin_mm=chosen["stop"]["above_cells_mm"]).as_document()
    return {"platelets_1e9": dose_of(plan), "spin": None}


def dose_of(plan: Mapping[str, Any]) -> dict[str, float] | float:
    """Return the platelets of the product of a printed PLAN, in billions."""
    return _times_ml(plan["prp_platelets_1e9_per_l"], plan["leave_ml"])


def _times_ml(count: Mapping[str, float] | float, volume_ml: float) -> dict[str, float] | float:
    """Return what a volume holds of what is counted by the litre."""
    if isinstance(count, Mapping):
        return {key: value * volume_ml / 1e3 for key, value in count.items()}
    return float(count * volume_ml / 1e3)


def _by_effect(told: Sequence[Mapping[str, Any]], *, pooled: bool) -> Document:
    found: dict[str, object] = {}
    for number, way in enumerate(told):
        if pooled:
            names = [Effect.GO_ON, Effect.HARD_AGAIN, Effect.SPIN_MORE] if number == 0 else []
        elif way["mix"]:
            names = [Effect.MIX_AND_SPIN]
        else:
            names = [Effect.SPIN_MORE] if way["spin"] else [Effect.GO_ON, Effect.GO_ON_WITHOUT]
        found |= {name.value: way for name in names}
    return found


def _dose_in_hand(run: Run, facts: RunFacts) -> str:
    """Return the dose once nothing changes it but how much is left: as last foreseen, else as planned."""
    kept = kept_foresight(run)
    told = facts.opening.plan if kept is None else kept.document["after"]
    count = told["prp_platelets_1e9_per_l"]
    return "" if count is None else dose_words(_times_ml(count, expected_in_hand_ml(facts)))


def _offered(choice: Choice, facts: RunFacts, found: Document, *, in_hand: str) -> Offered:
    way = found.get(choice.effect.value)
    spin = (way or {}).get("spin") or _default_spin(choice, facts)
    body = {"mishap": facts.open_mishap.mishap if facts.open_mishap else "", "choice": choice.key}
    return Offered(
        choice=choice,
        body={**body, **({"minutes": spin["minutes"], "rpm": spin["rpm"]} if spin else {})},
        spin=f"{spin['minutes']:g} min at {spin['rpm']:.0f} rpm" if spin else "",
        dose=_dose(choice, facts, way) or in_hand if choice.effect not in AWAY else "",
    )


def _default_spin(choice: Choice, facts: RunFacts) -> Mapping[str, float] | None:
    """Return the spin a choice means before anything is predicted: what is missing of the plan's, or all of it."""
    if choice.effect not in SPINS_AGAIN:
        return None
    name, step = ("hard", Step.HARD_SPIN) if is_pooled(facts.step) else ("soft", Step.SOFT_SPIN)
    planned = facts.opening.plan[name]
    spun = sum(one.minutes for one in facts.spun if one.step is step)
    missing = planned["minutes"] - (spun if choice.effect is Effect.SPIN_MORE else 0.0)
    return {"minutes": round(max(SPIN_MIN_MINUTES, missing), 1), "rpm": planned["rpm"]}


def _dose(choice: Choice, facts: RunFacts, way: Mapping[str, Any] | None) -> str:
    if facts.dose_unknown:
        return DOSE_UNKNOWN
    if choice.effect is Effect.DRAW_AGAIN:
        return dose_words(dose_of(facts.opening.plan))
    return dose_words(way["platelets_1e9"]) if way else ""


def dose_words(told: Mapping[str, float] | float) -> str:
    """Return billions of platelets as a page says them."""
    if not isinstance(told, Mapping):
        return f"about {told:.1f} billion platelets"
    return f"about {told['p50']:.1f} billion platelets ({told['p05']:.1f}-{told['p95']:.1f})"
