"""How a run may end: who may sign, what stands in the way, and what was typed before."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils import timezone

from plasmawright.bench.blockers import Blocker, blockers
from plasmawright.bench.clocks import hold_clock
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Person, Run, Signature
from plasmawright.records.permissions import MAY, Action
from plasmawright.records.selectors.lots import lots_of_run, refusals_of
from plasmawright.records.selectors.people import members_of
from plasmawright.records.selectors.runs import signature
from plasmawright.web.bench_clocks import Ticking


@dataclass(frozen=True, kw_only=True)
class Typed:
    """A form of the ending that was refused: which, why, and what was typed; a PIN is typed anew."""

    form: str = ""
    refusals: tuple[Refusal, ...] = ()
    values: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, form: str, refused: Refusal | Refusals, values: Mapping[str, str]) -> "Typed":
        """Return what a refused form is shown with."""
        found = refused.found if isinstance(refused, Refusals) else (refused,)
        return cls(form=form, refusals=found, values={key: value for key, value in values.items() if key != "pin"})


@dataclass(frozen=True, kw_only=True)
class Ending:
    """What the last step shows.

    Parameters
    ----------
    signers, clinicians
        Who may release, and who may let the run past its hold limit; only those who have set a PIN.
    pause_s
        Seconds until the second read-back may be made; 0 where none is waited for.
    """

    releasing: bool
    blocked: tuple[Blocker, ...]
    signers: tuple[Person, ...]
    clinicians: tuple[Person, ...]
    hold_over: bool
    pause_s: int
    in_hand_ml: str
    signature: Signature | None


def ending_of(run: Run, facts: RunFacts, now: Ticking) -> Ending:
    """Return what the page says of the run's end."""
    hold = hold_clock(facts)
    releasing = facts.step is Step.RELEASE
    return Ending(
        releasing=releasing,
        blocked=_blocked(run, facts, now) if releasing else (),
        signers=_signers(run, facts) if releasing else (),
        clinicians=_able(run, Action.OVERRIDE) if releasing else (),
        hold_over=bool(hold and hold.is_over(now.at)) and "hold" not in facts.overridden and releasing,
        pause_s=_pause_s(facts, now) if releasing else 0,
        in_hand_ml=_in_hand(facts),
        signature=signature(run) if facts.ended else None,
    )


def _blocked(run: Run, facts: RunFacts, now: Ticking) -> tuple[Blocker, ...]:
    found = list(blockers(facts, Step.RELEASED, now.at))
    if not run.practice:
        refused = refusals_of([use.lot for use in lots_of_run(run)], timezone.localdate(now.at))
        found += [Blocker(reason=f"{one.field} {one.value}: {one.limit}.", remedy=one.remedy) for one in refused]
    return tuple(found)


def _signers(run: Run, facts: RunFacts) -> tuple[Person, ...]:
    """Return who may sign: the preparer where the run is solo, anybody else who may release where it is not.

    With the dose unknown a clinician decides.
    """
    action = Action.OVERRIDE if facts.dose_unknown else Action.RELEASE
    able = _able(run, Action.PRACTICE if run.practice else action)
    return tuple(person for person in able if (person.pk == run.preparer_id) is run.solo)


def _able(run: Run, action: Action) -> tuple[Person, ...]:
    return tuple(
        member.person
        for member in members_of(run.clinic)
        if member.pin is not None and not MAY[action].isdisjoint(member.roles)
    )


def _pause_s(facts: RunFacts, now: Ticking) -> int:
    if not facts.opening.solo or facts.checked_at is None:
        return 0
    passed_s = (now.at - facts.checked_at).total_seconds()
    return max(0, int(facts.opening.policy.solo_pause_s - passed_s + 0.999))


def _in_hand(facts: RunFacts) -> str:
    found = facts.signed.get("prp_ml", facts.measured.get("prp_ml"))
    if found is not None:
        return f"{found:.1f}"
    sites = facts.opening.plan["sites"]
    return f"{sum(site['volume_ml'] for site in sites if site['product'] == 'prp'):.1f}"
