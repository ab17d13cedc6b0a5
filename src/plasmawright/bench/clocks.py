"""The clocks of a run: deadlines on its steady time, never a countdown that somebody must keep alive."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from plasmawright.bench.facts import RunFacts, planned_minutes
from plasmawright.bench.steps import ORDER, SPINS, Step


@dataclass(frozen=True, kw_only=True)
class Clock:
    """One deadline.

    Parameters
    ----------
    name
        ``spin``, ``stand``, ``rest``, ``pause``, ``hold`` or ``open``.
    rings
        Whether its end is something the bench waits for, and so makes a sound.
    """

    name: str
    words: str
    from_at: datetime
    due_at: datetime
    rings: bool
    over_words: str

    def is_over(self, at: datetime) -> bool:
        """Return whether the deadline has passed."""
        return at >= self.due_at

    def left_s(self, at: datetime) -> float:
        """Return the seconds left, below zero once it has passed."""
        return (self.due_at - at).total_seconds()


def clocks_of(facts: RunFacts) -> tuple[Clock, ...]:
    """Return the clocks that run, the one of the step first."""
    if facts.ended:
        return ()
    found = (_spin(facts), _stand(facts), _rest(facts), _pause(facts), hold_clock(facts), _open(facts))
    return tuple(clock for clock in found if clock is not None)


def shortest(facts: RunFacts, at: datetime) -> Clock | None:
    """Return the clock with the least time left."""
    return min(clocks_of(facts), key=lambda clock: clock.left_s(at), default=None)


def _spin(facts: RunFacts) -> Clock | None:
    if facts.step not in SPINS or facts.began_at is None:
        return None
    opening = facts.opening
    length = timedelta(minutes=planned_minutes(facts), seconds=opening.up_s + opening.down_s)
    return Clock(
        name="spin",
        words="until the rotor stands",
        from_at=facts.began_at,
        due_at=facts.began_at + length,
        rings=True,
        over_words="The rotor should stand still.",
    )


def _stand(facts: RunFacts) -> Clock | None:
    if facts.step is not Step.STAND:
        return None
    return _waiting(facts, name="stand", words="to stand", minutes=facts.opening.policy.stand_min)


def _rest(facts: RunFacts) -> Clock | None:
    if facts.step is not Step.REST:
        return None
    return _waiting(facts, name="rest", words="for the pellet to rest", minutes=facts.opening.policy.rest_min)


def _waiting(facts: RunFacts, *, name: str, words: str, minutes: float) -> Clock | None:
    if minutes <= 0:  # the clinic waits for no clock here: nothing that could ring
        return None
    return Clock(
        name=name,
        words=words,
        from_at=facts.since,
        due_at=facts.since + timedelta(minutes=minutes),
        rings=True,
        over_words="Go on.",
    )


def _pause(facts: RunFacts) -> Clock | None:
    if not facts.opening.solo or facts.step is not Step.RELEASE or facts.checked_at is None:
        return None
    return Clock(
        name="pause",
        words="until the second read-back",
        from_at=facts.checked_at,
        due_at=facts.checked_at + timedelta(seconds=facts.opening.policy.solo_pause_s),
        rings=True,
        over_words="Read label, volume and clock again.",
    )


def hold_clock(facts: RunFacts) -> Clock | None:
    """Return the clock from the draw to release; nothing before the first tube."""
    if facts.drawn_from is None:
        return None
    hours = facts.opening.policy.hold_h
    return Clock(
        name="hold",
        words="to release",
        from_at=facts.drawn_from,
        due_at=facts.drawn_from + timedelta(hours=hours),
        rings=False,
        over_words=f"More than {hours:g} h since the draw.",
    )


def _open(facts: RunFacts) -> Clock | None:
    if facts.cap_off_at is None or ORDER.index(facts.step) > ORDER.index(Step.FILL):
        return None
    minutes = facts.opening.policy.open_caution_min
    return Clock(
        name="open",
        words="open",
        from_at=facts.cap_off_at,
        due_at=facts.cap_off_at + timedelta(minutes=minutes),
        rings=False,
        over_words=f"Open for more than {minutes:g} min.",
    )
