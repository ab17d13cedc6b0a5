"""What was seen at the bench, told to the model: the syringe's interval before and after, outside every request."""

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from plasmawright.bench.entries import Kind, Measure, Written
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.facts import Spun as Done
from plasmawright.bench.steps import ORDER, Step
from plasmawright.parameters.sets import ParameterSet
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled
from plasmawright.planning.seen import Marched, Seen, foresee_on, marched, without_dose
from plasmawright.records.models import Run
from plasmawright.records.selectors.runs import foresight as kept_foresight
from plasmawright.web.bench_thinking import BENCH, Document, Thought, parameters_later
from plasmawright.web.bench_volumes import measured_all

KEPT_MAX = 8
NOT_SEEN = frozenset({Measure.MASS_G.value, Measure.ACTIVATED.value, Measure.SWIRL_LOOK.value})
TELLING = frozenset({Kind.RED_SEEN, Kind.RED_FATE, Kind.MISHAP, Kind.CHOSEN, Kind.AMENDED})
"""Entries after which the model is asked anew."""
WHOLE_SYRINGE = frozenset({Step.RESUSPEND, Step.SWIRL, Step.SAMPLE})
"""Where the volume in hand is the whole product: not yet sampled, nor filled into syringes."""
SPIN_DIFFERS_MIN = 0.05
SPIN_DIFFERS_RPM = 1.0

_marches: OrderedDict[str, Marched] = OrderedDict()
"""The last runs as planned, marched once; touched by the one thread that computes."""


@dataclass(frozen=True, kw_only=True)
class Foreseen:
    """What is known of a run's syringe: a document that was kept, or one that has just been found, or neither yet."""

    position: int
    kept: Document | None
    thought: Thought | None


def foreseen(run: Run, facts: RunFacts, entries: Sequence[Written]) -> Foreseen | None:
    """Return what the model says of everything seen so far; it is asked where it has not been. Nothing seen: nothing.

    Raises
    ------
    Refusals
        If what was entered is no reading the model can take.
    """
    position = last_seen(entries)
    if not position:
        return None
    kept = kept_foresight(run)
    if kept is not None and kept.upto_position >= position:
        return Foreseen(position=position, kept=kept.document, thought=None)
    seen = Seen.from_document(seen_of(facts, entries))
    compute = partial(_foretell, run, seen, parameters_later(run), dose_unknown=facts.dose_unknown)
    thought = BENCH.about(asker=f"foresight {run.code}", ticket=str(position), compute=compute)
    return Foreseen(position=position, kept=None if kept is None else kept.document, thought=thought)


def last_seen(entries: Sequence[Written]) -> int:
    """Return the place of the last entry that tells the model something; 0 where none does."""
    return max((entry.position for entry in entries if _tells(entry)), default=0)


def _tells(entry: Written) -> bool:
    if entry.review:
        return False
    if entry.kind is Kind.MEASURED:
        return entry.body["what"] not in NOT_SEEN
    return entry.kind in TELLING


def _foretell(run: Run, seen: Seen, parameters_of_plan: Callable[[], ParameterSet], *, dose_unknown: bool) -> Document:
    """Answer with every draw of the plan; about a second the first time, then at once."""
    plan = _marches.get(run.code)
    if plan is None:
        chosen = run.plan.answer["chosen"]
        plan = marched(
            visit_from(run.plan.visit.document),
            Settled.from_document(chosen),
            parameters_of_plan(),
            margin_mm=chosen["stop"]["above_cells_mm"],
        )
        _marches[run.code] = plan
        while len(_marches) > KEPT_MAX:
            _marches.popitem(last=False)
    found = foresee_on(plan, seen)
    return (without_dose(found) if dose_unknown else found).as_document()


def seen_of(facts: RunFacts, entries: Sequence[Written]) -> dict[str, object]:
    """Return what was seen and done as the model reads it; every key may be missing."""
    return {**_heights(facts), **_volumes(facts, entries), **_red(facts), **_spins(facts), **_fill(facts)}


def _heights(facts: RunFacts) -> dict[str, object]:
    found: dict[str, object] = {}
    for what, name in ((Measure.INTERFACE_MM, "interface_mm"), (Measure.PLASMA_MM, "plasma_height_mm")):
        if values := [value for value in measured_all(facts, what) if value > 0]:
            found[name] = values
    measured = facts.measured
    if Measure.INTERFACE_LOOK.value in measured:
        found["edge"] = measured[Measure.INTERFACE_LOOK.value]
    minutes, height = (measured.get(what.value) for what in (Measure.LOOK_MINUTES, Measure.LOOK_INTERFACE_MM))
    if minutes and height:
        found["mid_spin"] = {"minutes": minutes, "interface_mm": height}
    if Measure.PPP_LOOK.value in measured:
        found["poor_look"] = measured[Measure.PPP_LOOK.value]
    return found


def _volumes(facts: RunFacts, entries: Sequence[Written]) -> dict[str, object]:
    found: dict[str, object] = {}
    if each := [tube.withdrawn_ml for tube in facts.usable if tube.withdrawn_ml and not tube.red]:
        found["plasma_ml"] = each
    if weighed := [value for value in measured_all(facts, Measure.WITHDRAWN_G) if value > 0]:
        found["plasma_g"] = weighed
    apart = any(tube.red and tube.red_fate != "pooled" for tube in facts.usable)
    if (pooled := facts.measured.get(Measure.POOLED_ML.value)) and not apart:
        found["plasma_all_ml"] = pooled
    whole = [
        entry.body["value"]
        for entry in entries
        if entry.kind is Kind.MEASURED and entry.step in WHOLE_SYRINGE and entry.body["what"] == Measure.PRP_ML
    ]
    if whole and whole[-1] > 0:
        found["prp_ml"] = whole[-1]
    return found


def _red(facts: RunFacts) -> dict[str, object]:
    red = [place for place, tube in enumerate(facts.usable, start=1) if tube.red]
    if not red:
        over = ORDER.index(Step.WITHDRAW)
        return {"red_seen": False} if not facts.ended and ORDER.index(facts.step) > over else {}
    found: dict[str, object] = {"red_seen": True, "red_tubes": red}
    fates = {tube.red_fate for tube in facts.usable if tube.red}
    if len(fates) == 1 and (fate := fates.pop()) is not None:
        found["red_fate"] = fate
    return found


def _spins(facts: RunFacts) -> dict[str, object]:
    found: dict[str, object] = {}
    for step, name, planned in ((Step.SOFT_SPIN, "soft_spin", "soft"), (Step.HARD_SPIN, "hard_spin", "hard")):
        spun = [one for one in facts.spun if one.step is step]
        if differs := _differing(spun, facts.opening.plan[planned]):
            found[name] = differs
    return found


def _differing(spun: Sequence[Done], planned: Mapping[str, Any]) -> dict[str, float] | None:
    """Return all parts of a spin together, where they are not what was planned."""
    minutes = sum(one.minutes for one in spun)
    if not spun or minutes <= SPIN_DIFFERS_MIN:
        return None
    rpm = max(one.rpm for one in spun)
    same = abs(minutes - planned["minutes"]) < SPIN_DIFFERS_MIN and abs(rpm - planned["rpm"]) < SPIN_DIFFERS_RPM
    return None if same else {"rpm": rpm, "minutes": minutes}


def _fill(facts: RunFacts) -> dict[str, object]:
    found: dict[str, object] = {}
    usable = facts.usable
    if usable and (lost := facts.opening.tubes - len(usable)) > 0:
        found["tubes_lost"] = lost
    if any(tube.blood_ml for tube in usable):
        found["blood_ml"] = sum(tube.blood_ml or facts.opening.blood_ml for tube in usable) / len(usable)
    return found
