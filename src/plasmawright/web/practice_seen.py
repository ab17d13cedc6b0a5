"""What a practising person would see: invented blood, worked out once for each run and outside every request."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any

from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import Step
from plasmawright.planning.invented import invented
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled
from plasmawright.records.models import Run
from plasmawright.web.bench_thinking import Document, Thinking, Thought

INVENTED = Thinking()
"""A queue of its own: the bench's foresight of a run in earnest never waits behind practice."""


@dataclass(frozen=True, kw_only=True)
class Sight:
    """What would be seen at a step: ``words`` once it is worked out, ``why`` where it cannot be."""

    working: bool
    words: tuple[str, ...]
    why: str


def sight_of(run: Run, facts: RunFacts) -> Sight | None:
    """Return what the step of a practice run would show; nothing where there is nothing to see."""
    say = SEEN.get(facts.step)
    if not run.practice or say is None:
        return None
    thought = thought_of(run)
    words = () if thought.found is None else say(thought.found, facts)
    return Sight(working=thought.working, words=words, why=thought.why)


def thought_of(run: Run) -> Thought:
    """Ask for the run's invented blood, or return it where it is known; always the same for one run."""
    compute = partial(_document, run.plan.visit.document, run.plan.answer["chosen"], run.pk)
    return INVENTED.about(asker=f"invented:{run.pk}", ticket=run.code, compute=compute)


def _document(visit_document: Mapping[str, object], chosen: Mapping[str, Any], seed: int) -> Document:
    margin_mm = float(chosen["stop"]["above_cells_mm"])
    found = invented(visit_from(visit_document), Settled.from_document(chosen), seed=seed, margin_mm=margin_mm)
    return asdict(found)


def _look(seen: Document, _facts: RunFacts) -> tuple[str, ...]:
    return (f"the red at {_half_mm(seen['interface_mm'])} mm", "a sharp edge, clear plasma")


def _withdraw(seen: Document, _facts: RunFacts) -> tuple[str, ...]:
    return (f"the red at {_half_mm(seen['interface_mm'])} mm", f"{seen['plasma_ml']:.1f} mL out of each tube")


def _pool(seen: Document, facts: RunFacts) -> tuple[str, ...]:
    return (f"{_pooled_ml(seen, facts):.1f} mL in the pool",)


def _take_off(seen: Document, facts: RunFacts) -> tuple[str, ...]:
    off_ml = max(0.0, _pooled_ml(seen, facts) - float(facts.opening.plan["leave_ml"]))
    return ("clear plasma over a pellet", f"{off_ml:.1f} mL come off")


def _swirl(_seen: Document, _facts: RunFacts) -> tuple[str, ...]:
    return ("a swirl against the light, no clumps",)


def _sample(seen: Document, _facts: RunFacts) -> tuple[str, ...]:
    return (
        f"platelets {seen['prp_platelets_1e9_per_l']:.0f} × 10⁹/L in the PRP, "
        f"{seen['ppp_platelets_1e9_per_l']:.0f} × 10⁹/L in the PPP",
        f"red cells {seen['red_cells_1e12_per_l']:.2g} × 10¹²/L",
    )


def _pooled_ml(seen: Document, facts: RunFacts) -> float:
    """Return what would be pooled of the tubes that are left, without those whose red is left out."""
    pooled = [tube for tube in facts.usable if not tube.red or tube.red_fate in {"pooled", "respun"}]
    return float(seen["plasma_ml"]) * len(pooled)


def _half_mm(value: float) -> str:
    return f"{round(2 * value) / 2:.1f}"


SEEN: Mapping[Step, Callable[[Document, RunFacts], tuple[str, ...]]] = {
    Step.LOOK: _look,
    Step.WITHDRAW: _withdraw,
    Step.POOL: _pool,
    Step.TAKE_OFF: _take_off,
    Step.SWIRL: _swirl,
    Step.SAMPLE: _sample,
}
"""What each step would show."""
