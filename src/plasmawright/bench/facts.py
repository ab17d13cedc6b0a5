"""Where a run stands: nouns only."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from plasmawright.bench.policy import Policy
from plasmawright.bench.steps import ENDS, Step


@dataclass(frozen=True, kw_only=True)
class Opening:
    """What is settled before the first step.

    Parameters
    ----------
    plan
        The chosen PLAN of the contract. Any: JSON may hold anything.
    preparer
        The username of who prepares.
    codes
        For each vessel's opaque code its kind and number, such as ``("tube", 2)``.
    """

    plan: Mapping[str, Any]
    blood_ml: float
    policy: Policy
    solo: bool
    practice: bool
    preparer: str
    opened_at: datetime
    up_s: float = 30.0
    down_s: float = 60.0
    codes: Mapping[str, tuple[str, int]] = field(default_factory=dict)

    @property
    def tubes(self) -> int:
        """Return how many tubes of blood the plan draws."""
        return int(self.plan["tubes"])


@dataclass(frozen=True, kw_only=True)
class Tube:
    """One tube of blood."""

    number: int
    filled_at: datetime | None = None
    failed: bool = False
    slow: bool = False
    blood_ml: float | None = None
    withdrawn_at: datetime | None = None
    withdrawn_ml: float | None = None
    red: bool = False
    red_fate: str | None = None
    lost: str = ""
    void: bool = False

    @property
    def usable(self) -> bool:
        """Return whether its blood may still be used."""
        return not (self.failed or self.lost or self.void)


@dataclass(frozen=True, kw_only=True)
class Spun:
    """One spin the tubes have had: as dialled, or as it was found to have been."""

    step: Step
    rpm: float
    minutes: float
    ended_at: datetime
    whole: bool = True


@dataclass(frozen=True, kw_only=True)
class Open:
    """A mishap that waits for its choice."""

    position: int
    mishap: str
    step: Step
    tubes: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class RunFacts:
    """Where a run stands.

    Parameters
    ----------
    since
        When its step began.
    began_at
        When the timer of this step was started; ``None`` while it has not been.
    extra_minutes, extra_rpm
        What a chosen way asks of the next soft spin instead of the plan's.
    spun
        Soft and hard spins since the draw or since the tubes were last mixed.
    measured
        The last value read of each quantity that is of the whole run.
    dose_unknown
        Clumps or a lost pellet: no predicted dose stands any more.
    open_mishap, waiting
        The mishap that is asked about, and those told before it that still wait for their choice.
    foreign_code
        A label of another run was scanned and not yet put away.
    scanned_out
        A tube that is out of this run was scanned and not yet put away.
    to_review
        Places of entries that came after the run had moved on and that nobody has looked at.
    """

    opening: Opening
    step: Step
    since: datetime
    position: int = 0
    began_at: datetime | None = None
    tubes: tuple[Tube, ...] = ()
    counted: bool = False
    drawn_from: datetime | None = None
    cap_off_at: datetime | None = None
    suspended_at: datetime | None = None
    current: int | None = None
    extra_minutes: float | None = None
    extra_rpm: float | None = None
    spun: tuple[Spun, ...] = ()
    measured: Mapping[str, Any] = field(default_factory=dict)
    open_mishap: Open | None = None
    waiting: tuple[Open, ...] = ()
    mishaps: tuple[str, ...] = ()
    dose_unknown: bool = False
    all_void: bool = False
    foreign_code: str | None = None
    scanned_out: int | None = None
    scanned: frozenset[str] = frozenset()
    silenced: frozenset[str] = frozenset()
    differs: tuple[str, ...] = ()
    to_review: tuple[int, ...] = ()
    checked_at: datetime | None = None
    checked_later: bool = False
    checked: Mapping[str, Any] = field(default_factory=dict)
    overridden: Mapping[str, str] = field(default_factory=dict)
    signed: Mapping[str, Any] = field(default_factory=dict)
    later: int = 0
    ended_at: datetime | None = None

    @property
    def usable(self) -> tuple[Tube, ...]:
        """Return the tubes whose blood may still be used."""
        return tuple(tube for tube in self.tubes if tube.usable)

    @property
    def ended(self) -> bool:
        """Return whether the run has ended."""
        return self.step in ENDS

    @property
    def mishaps_open(self) -> tuple[Open, ...]:
        """Return every mishap that waits for its choice, the one that is asked about first."""
        return (*(() if self.open_mishap is None else (self.open_mishap,)), *reversed(self.waiting))

    def tube(self, number: int) -> Tube | None:
        """Return one tube, or nothing."""
        return next((tube for tube in self.tubes if tube.number == number), None)

    def with_tube(self, number: int, **changes: Any) -> "RunFacts":
        """Return the facts with one tube changed. Any: fields differ in type."""
        changed = tuple(replace(tube, **changes) if tube.number == number else tube for tube in self.tubes)
        return replace(self, tubes=changed)

    def at_step(self, step: Step, at: datetime) -> "RunFacts":
        """Return the facts once the run stands at ``step``."""
        moved = replace(self, step=step, since=at, began_at=None, current=None, silenced=frozenset())
        if step is Step.WITHDRAW and moved.cap_off_at is None:
            moved = replace(moved, cap_off_at=at)
        return replace(moved, ended_at=at, open_mishap=None, waiting=()) if step in ENDS else moved


def start_of(opening: Opening) -> RunFacts:
    """Return where a run stands before its first entry."""
    tubes = tuple(Tube(number=number) for number in range(1, opening.tubes + 1))
    return RunFacts(opening=opening, step=Step.IDENTIFY, since=opening.opened_at, tubes=tubes)


def planned_minutes(facts: RunFacts) -> float:
    """Return the minutes at speed this spin is set to: the plan's, or those a chosen way asks for."""
    if facts.extra_minutes is not None:
        return facts.extra_minutes
    return float(facts.opening.plan["soft" if facts.step is Step.SOFT_SPIN else "hard"]["minutes"])


def planned_rpm(facts: RunFacts) -> float:
    """Return the speed this spin is set to."""
    if facts.extra_rpm is not None:
        return facts.extra_rpm
    return float(facts.opening.plan["soft" if facts.step is Step.SOFT_SPIN else "hard"]["rpm"])
