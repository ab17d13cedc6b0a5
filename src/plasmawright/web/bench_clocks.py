"""The clocks of a run as a page shows them: a deadline each, and the run's own time now."""

from dataclasses import dataclass
from datetime import datetime

from plasmawright.bench.clocks import Clock, clocks_of
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.moments import Moment, steady
from plasmawright.records.models import Run
from plasmawright.records.selectors.runs import last_moment

SECONDS_SHOWN_BELOW_S = 20 * 60


@dataclass(frozen=True, kw_only=True)
class Ticking:
    """The run's own time now, and what to say where the clock on the wall has jumped; empty where it has not."""

    at: datetime
    jumped: str


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One clock with what is left of it in words; ``over`` once its time has come."""

    name: str
    words: str
    due: str
    left: str
    over: bool
    rings: bool
    silenced: bool
    over_words: str


def ticking(run: Run, moment: Moment) -> Ticking:
    """Return the run's own time at one reading of the machine's clocks."""
    now = steady(last_moment(run), moment, pace=run.pace)
    return Ticking(at=now.moment.at, jumped=now.told)


def clocks_shown(facts: RunFacts, at: datetime) -> tuple[Shown, ...]:
    """Return the clocks that run, the one of the step first."""
    return tuple(_shown(clock, facts, at) for clock in clocks_of(facts))


def _shown(clock: Clock, facts: RunFacts, at: datetime) -> Shown:
    return Shown(
        name=clock.name,
        words="of open time" if clock.name == "open" else clock.words,
        due=clock.due_at.isoformat(),
        left=left_words(clock.left_s(at)),
        over=clock.is_over(at),
        rings=clock.rings,
        silenced=clock.name in facts.silenced,
        over_words=clock.over_words,
    )


def left_words(left_s: float) -> str:
    """Return what is left as it is read aloud: hours and minutes, and seconds towards the end."""
    if left_s < 0:
        return f"{_length(-left_s)} over"
    return _length(left_s)


def _length(seconds: float) -> str:
    whole = int(seconds)
    if whole >= 3600:
        return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
    if whole >= SECONDS_SHOWN_BELOW_S:
        return f"{whole // 60} min"
    return f"{whole // 60}:{whole % 60:02d}"
