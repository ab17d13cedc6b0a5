"""Whatever is told of a run, in whatever order, it stands somewhere that the table of steps allows."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from random import Random
from typing import Any

from hypothesis import event, given, settings
from hypothesis import strategies as some
from tests.bench.telling import AT, make_opening

from plasmawright.bench.ahead import presses_ahead
from plasmawright.bench.blockers import blockers
from plasmawright.bench.clocks import clocks_of
from plasmawright.bench.entries import FATES, LIMITS, LOOKS, TUBE_EVENTS, Kind, Measure, Written, read_body
from plasmawright.bench.facts import Opening, RunFacts, start_of
from plasmawright.bench.fitting import refuse_undoing, refuse_unfitting
from plasmawright.bench.guide import card_of
from plasmawright.bench.mishaps import MISHAPS, Effect, choices_at
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import MAY_FOLLOW, Step
from plasmawright.bench.telling import amended_bodies, facts_of, moved_on, told
from plasmawright.bench.waiting import waiting_for
from plasmawright.errors import Refusal, Refusals

Body = dict[str, Any]
TUBES = range(1, 6)  # of a plan of three: fresh ones, and some that are never there
REFUSED = (Refusal, Refusals)
LENGTH = 120  # of a walk; a run of three tubes with no surprises is told in some thirty entries


class Told:
    """A run as the service keeps it, with no database: what is refused leaves no trace."""

    def __init__(self, opening: Opening) -> None:
        self.opening = opening
        self.kept: list[Written] = []
        self.facts = start_of(opening)
        self.at = AT

    def tell(self, kind: Kind, step: Step, body: Body, *, later_min: float = 0.0) -> bool:
        """Keep one entry as ``records.services.run_entries`` does; return whether it was taken."""
        try:
            body = read_body(kind, body)
            review = moved_on(self.facts, kind, step, body)
            if not review:
                refuse_unfitting(self.facts, kind, body)
            entry = Written(
                position=len(self.kept) + 1, kind=kind, step=step if review else self.facts.step, body=body,
                at=self.at - timedelta(minutes=later_min), by="pim", later=later_min > 0, review=review,
            )  # fmt: skip
            if kind is Kind.AMENDED:
                refuse_undoing(self.opening, self.kept, entry)
        except REFUSED:
            return False
        after = facts_of(self.opening, [*self.kept, entry]) if kind is Kind.AMENDED else told(self.facts, entry)
        moved = after.step is not self.facts.step
        if moved and blockers(replace(after, step=self.facts.step), after.step, entry.at):
            return False
        refuse_step_back(self.facts, after)
        self.kept.append(entry)
        self.facts = after
        return True


def refuse_step_back(before: RunFacts, after: RunFacts) -> None:
    """Hold what no entry may ever do to a run."""
    void = {tube.number for tube in before.tubes if tube.void}
    assert void <= {tube.number for tube in after.tubes if tube.void}
    assert void.isdisjoint(tube.number for tube in after.usable), "a void tube came back"
    assert after.all_void or not before.all_void
    assert after.dose_unknown or not before.dose_unknown, "an unknown dose was known again"
    assert after.step is before.step or after.step in MAY_FOLLOW[before.step]
    if before.drawn_from is not None:
        assert after.drawn_from is not None
        assert after.drawn_from <= before.drawn_from, "the hold began later"
    assert after.position == before.position + 1


Act = Callable[[Told, Random], tuple[Kind, Body] | None]


def press(run: Told, _by: Random) -> tuple[Kind, Body] | None:
    found = press_of(run.facts)
    return None if found is None else (found.kind, dict(found.body))


def sign(run: Told, by: Random) -> tuple[Kind, Body] | None:
    meaning = by.choice(["discarded", "stopped"]) if by.random() < 0.05 else "released"
    return Kind.SIGNED, {"meaning": meaning, "signer": "cleo", "witnessed": True, "prp_ml": 3.0, "words": "bin"}


def choose(run: Told, by: Random) -> tuple[Kind, Body] | None:
    if not run.facts.mishaps_open:
        return Kind.CHOSEN, {"mishap": by.choice(list(MISHAPS)), "choice": "go_on"}
    mishap = MISHAPS[by.choice(run.facts.mishaps_open).mishap]
    ways = [*mishap.choices, *choices_at(mishap, run.facts.step)]
    onward = [way for way in ways if way.effect is not Effect.STOP]
    choice = by.choice(onward if onward and by.random() < 0.95 else ways)
    return Kind.CHOSEN, {"mishap": mishap.name, "choice": choice.key, "minutes": by.choice([None, 2.0, 5.0])}


def go_wrong(_run: Told, by: Random) -> tuple[Kind, Body] | None:
    tubes = by.choice([None, [], by.sample(TUBES, 2), [by.choice(TUBES)]])
    numbers = {name: by.choice([None, 2.5]) for name in ("ml", "minutes", "rpm")}
    grave = {"tubes_mixed", "patient_gone"}
    light = [name for name in MISHAPS if name not in grave]
    name = by.choice(sorted(grave)) if by.random() < 0.05 else by.choice(light)
    return Kind.MISHAP, {"mishap": name, "tubes": tubes, **numbers}


def measure(_run: Told, by: Random) -> tuple[Kind, Body] | None:
    what = by.choice(list(Measure))
    value = by.choice(LOOKS[what]) if what in LOOKS else by.uniform(*LIMITS[what])
    return Kind.MEASURED, {"what": what.value, "value": value, "tube": by.choice([None, by.choice(TUBES)])}


def amend(run: Told, by: Random) -> tuple[Kind, Body] | None:
    if not run.kept:
        return None
    meant = by.choice(run.kept)
    body = amended_bodies(run.kept)[meant.position]
    other = {
        "tubes": [by.choice(TUBES)], "tube": by.choice(TUBES), "what": by.choice(TUBE_EVENTS), "value": "swirl",
        "mishap": "faint", "choice": "stop", "minutes": 1.0, "ml": None, "more_minutes": 2.0, "prp_ml": 2.0,
        "fate": by.choice(FATES),
    }  # fmt: skip
    name = by.choice([*sorted(body.keys() & other.keys()), *sorted(other)])
    return Kind.AMENDED, {"position": meant.position, "body": {name: other[name]}, "words": "not so"}


def scan(_run: Told, by: Random) -> tuple[Kind, Body] | None:
    own = by.random() < 0.8
    tube = by.choice([None, 1, 2, 3]) if own else None
    return Kind.SCANNED, {"code": f"CODE{tube or 0}", "own": own, "tube": tube}


def tap_anything(run: Told, by: Random) -> tuple[Kind, Body] | None:
    tube = by.choice(TUBES)
    found: list[tuple[Kind, Body]] = [
        (Kind.BEGAN, {}),
        (Kind.DONE, {"more_minutes": by.choice([None, 3.0]), "label_read": by.choice([None, True, False])}),
        (Kind.TUBE, {"tube": tube, "what": by.choice(TUBE_EVENTS), "ml": by.choice([None, 5.0])}),
        (Kind.RED_SEEN, {"tube": by.choice([None, tube])}),
        (Kind.RED_FATE, {"tube": tube, "fate": by.choice(FATES)}),
        (Kind.REVIEWED, {"position": by.choice([*run.facts.to_review, 1])}),
        (Kind.SILENCED, {"clock": "spin"}),
        (Kind.DIFFERS, {}),
        (Kind.OVERRIDDEN, {"what": "hold", "words": "waits next door"}),
    ]
    return by.choice(found)


ACTS: tuple[Act, ...] = (*(press,) * 16, *(choose,) * 6, go_wrong, measure, amend, scan, tap_anything, sign, sign)


@settings(max_examples=100, deadline=None)
@given(seed=some.integers(0, 2**32 - 1), solo=some.booleans(), count_ml=some.sampled_from([0.0, 4.0]))
def test_whatever_is_told_a_run_stands_where_it_may(seed: int, solo: bool, count_ml: float) -> None:
    by, plain = Random(seed), make_opening()  # noqa: S311 - a walk, no secret
    run = Told(make_opening(solo=solo, policy=replace(plain.policy, count_tube_ml=count_ml)))
    cut, half = by.randrange(LENGTH), run.facts
    for number in range(LENGTH):
        run.at += timedelta(seconds=by.choice([1, 30, 300]))
        act = by.choice(ACTS)(run, by)
        if act is not None:
            stale = by.random() < 0.05
            run.tell(act[0], by.choice(list(Step)) if stale else run.facts.step, act[1], later_min=by.choice([0, 0, 2]))
        refuse_silence(run)
        if number == cut:
            half = run.facts
    event(f"ended as {run.facts.step}" if run.facts.ended else "under way")
    assert facts_of(run.opening, run.kept) == run.facts, "told one by one as told whole"
    assert facts_of(run.opening, run.kept[: half.position]) == half, "what came later changes nothing of then"


def refuse_silence(run: Told) -> None:
    """Hold that every page can be drawn wherever the run stands."""
    facts = run.facts
    assert card_of(facts).do
    assert all(clock.due_at >= clock.from_at for clock in clocks_of(facts))
    assert isinstance(waiting_for(facts), str)
    assert len(presses_ahead(facts, run.at)) <= 100
    if facts.ended:
        assert facts.mishaps_open == ()
    if facts.step is Step.RELEASED:
        assert not facts.all_void
        assert facts.usable
