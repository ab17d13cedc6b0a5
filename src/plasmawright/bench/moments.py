"""When something happened, on a clock that neither jumps nor sleeps."""

from dataclasses import dataclass
from datetime import datetime, timedelta

JUMP_TOLD_S = 60.0
"""How far the clock on the wall may run from the machine's own before somebody is told."""


@dataclass(frozen=True, kw_only=True)
class Moment:
    """One reading of the machine's clocks.

    Parameters
    ----------
    at
        Wall time, aware; may be set forward and back by hand.
    boot_id
        Which start of the machine ``boot_s`` counts from.
    boot_s
        Seconds since that start, sleep included; never goes back.
    """

    at: datetime
    boot_id: str
    boot_s: float


@dataclass(frozen=True, kw_only=True)
class Steadied:
    """A time that never goes back, and how far the wall clock has jumped since the moment before."""

    moment: Moment
    jump_s: float

    @property
    def told(self) -> str:
        """Return what to say of a jump; empty when there is none worth telling."""
        if abs(self.jump_s) <= JUMP_TOLD_S:
            return ""
        way = "ahead" if self.jump_s > 0 else "back"
        return f"This machine's clock jumped {abs(self.jump_s) / 60:.0f} min {way}; the run's own clock did not."


def steady(last: Moment | None, now: Moment, *, pace: float = 1.0) -> Steadied:
    """Return when ``now`` is, counted on from ``last``.

    Within one start of the machine the time since boot counts; across a restart the wall clock does, but never to
    before ``last``. ``last`` holds a steadied time. A practice run's clock goes ``pace`` times as fast.
    """
    if last is None:
        return Steadied(moment=now, jump_s=0.0)
    if now.boot_id == last.boot_id:
        passed_s = max(0.0, now.boot_s - last.boot_s) * pace
        at = last.at + timedelta(seconds=passed_s)
        jump_s = (now.at - at).total_seconds() if pace == 1.0 else 0.0
    else:
        at = max(now.at, last.at)
        jump_s = (now.at - at).total_seconds()
    return Steadied(moment=Moment(at=at, boot_id=now.boot_id, boot_s=now.boot_s), jump_s=jump_s)


def earlier(now: Moment, last: Moment, *, held_s: float) -> Moment:
    """Return the moment ``held_s`` seconds before ``now``, but none before ``last``.

    What was tapped while nobody answered happened when it was tapped; the device says for how long it held it, since
    its own clock may be wrong.
    """
    since_s = now.boot_s - last.boot_s if now.boot_id == last.boot_id else (now.at - last.at).total_seconds()
    back_s = min(max(0.0, held_s), max(0.0, since_s))
    return Moment(at=now.at - timedelta(seconds=back_s), boot_id=now.boot_id, boot_s=now.boot_s - back_s)
