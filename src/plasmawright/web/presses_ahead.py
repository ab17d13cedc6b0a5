"""What a page needs to go on within its step while nobody answers."""

from plasmawright.bench.ahead import Ahead, presses_ahead
from plasmawright.bench.moments import Moment, steady
from plasmawright.bench.steps import Step
from plasmawright.records.models import Run
from plasmawright.records.selectors.runs import last_moment, stand


def ahead_of(run: Run, moment: Moment) -> dict[str, object]:
    """Return the run's own time, and the presses that end its step with the clock each begins."""
    facts = stand(run)
    at = steady(last_moment(run), moment, pace=run.pace).moment.at
    return {
        "position": facts.position,
        "step": facts.step.value,
        "ended": facts.ended,
        "now": at.isoformat(),
        "pace": run.pace,
        "presses": [_as_document(one, facts.step) for one in presses_ahead(facts, at)],
    }


def _as_document(ahead: Ahead, step: Step) -> dict[str, object]:
    press, clock = ahead.press, ahead.clock
    entry = {"kind": press.kind.value, "step": step.value, "body": dict(press.body)}
    if clock is None:
        return {"words": press.words, "entry": entry, "clock": None}
    lasts_s = (clock.due_at - clock.from_at).total_seconds()
    told = {"name": clock.name, "words": clock.words, "over_words": clock.over_words, "lasts_s": lasts_s}
    return {"words": press.words, "entry": entry, "clock": told}
