"""The day as Today and the wall show it: one row for each patient, practice apart."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from plasmawright.bench.clocks import Clock, shortest
from plasmawright.bench.moments import Moment, steady
from plasmawright.bench.steps import ORDER, TITLES, Step
from plasmawright.bench.waiting import waiting_for
from plasmawright.records.models import Clinic, Decision, Intake, Patient, Run
from plasmawright.records.selectors.patients import name_alerts
from plasmawright.records.selectors.settings import policy_of
from plasmawright.records.selectors.today import Standing, intakes_waiting, runs_of_day, witnessed
from plasmawright.web.run_labels import PRACTICE_PATIENT, identifiers_of
from plasmawright.web.today_quiet import Quiet
from plasmawright.web.today_standing import Standings


@dataclass(frozen=True, kw_only=True)
class Left:
    """What is left on the shortest clock: whole minutes, or how many it is over."""

    minutes: str
    words: str
    over: bool


@dataclass(frozen=True, kw_only=True)
class Comes:
    """A patient of today whose run is not open yet; ``signed`` once a clinician decided to go on."""

    patient_id: int
    intake_id: int
    identifiers: tuple[str, ...]
    alerts: tuple[str, ...]
    signed: bool


@dataclass(frozen=True, kw_only=True)
class Row:
    """One run of the day."""

    run_id: int
    code: str
    identifiers: tuple[str, ...]
    alerts: tuple[str, ...]
    prepares: str
    step: str
    place: str
    left: Left | None
    waiting: str
    late: int
    dose_unknown: bool
    pace: str
    entered_later: bool
    ended_at: datetime | None
    not_witnessed: bool


@dataclass(frozen=True, kw_only=True)
class Day:
    """Everything Today shows."""

    comes: tuple[Comes, ...]
    open: tuple[Row, ...]
    ended: tuple[Row, ...]
    practice: tuple[Row, ...]
    quiet: Quiet

    @property
    def is_empty(self) -> bool:
        """Return whether nobody comes and nothing runs."""
        return not (self.comes or self.open or self.ended)


def day_of(clinic: Clinic, *, moment: Moment, standings: Standings, quiet: Quiet) -> Day:
    """Return the day of ``moment``, each run on its own steady clock."""
    day = timezone.localdate(moment.at)
    runs, intakes = runs_of_day(clinic, day), intakes_waiting(clinic, day)
    stand = standings.of(clinic, runs)
    signed = witnessed(clinic, [run.pk for run in runs if run.ended_at is not None])
    alerts = _alerts([run.patient for run in runs], [intake.patient for intake in intakes])
    rows = [(run, _row(run, stand[run.pk], moment, alerts, signed)) for run in runs if run.pk in stand]
    return Day(
        comes=_comes(clinic, intakes, alerts),
        open=tuple(row for run, row in rows if not run.practice and row.ended_at is None),
        ended=tuple(row for run, row in rows if not run.practice and row.ended_at is not None),
        practice=tuple(row for run, row in rows if run.practice),
        quiet=quiet,
    )


def _alerts(of_runs: list[Patient | None], of_intakes: list[Patient]) -> Mapping[int, tuple[str, ...]]:
    """Return the name alerts among everybody of the day, each counted once."""
    people = {one.pk: one for one in (*of_runs, *of_intakes) if one is not None}
    return name_alerts(list(people.values()))


def _comes(clinic: Clinic, intakes: list[Intake], alerts: Mapping[int, tuple[str, ...]]) -> tuple[Comes, ...]:
    chosen = policy_of(clinic).label_identifiers if intakes else ()
    return tuple(
        Comes(
            patient_id=intake.patient_id,
            intake_id=intake.pk,
            identifiers=identifiers_of(intake.patient, chosen),
            alerts=alerts.get(intake.patient_id, ()),
            signed=intake.decision == Decision.GO_ON,
        )
        for intake in intakes
    )


def _row(
    run: Run, standing: Standing, moment: Moment, alerts: Mapping[int, tuple[str, ...]], signed: Mapping[int, bool]
) -> Row:
    facts, patient = standing.facts, run.patient
    at = steady(standing.last, moment, pace=run.pace).moment.at
    clock = shortest(facts, at)
    chosen = facts.opening.policy.label_identifiers
    return Row(
        run_id=run.pk,
        code=run.code,
        identifiers=PRACTICE_PATIENT if patient is None else identifiers_of(patient, chosen),
        alerts=() if patient is None else alerts.get(patient.pk, ()),
        prepares=run.preparer.display_name + (", alone" if run.solo else ""),
        step=TITLES[facts.step],
        place="" if facts.ended else f"step {ORDER.index(facts.step) + 1} of {len(ORDER)}",
        left=None if clock is None else _left(clock, at),
        waiting=waiting_for(facts),
        late=len(facts.to_review),
        dose_unknown=facts.dose_unknown,
        pace="" if run.pace == 1 else f"clock {run.pace:g} times as fast",
        entered_later=facts.later > 0,
        ended_at=facts.ended_at,
        not_witnessed=facts.step is Step.RELEASED and not signed.get(run.pk, False),
    )


def _left(clock: Clock, at: datetime) -> Left:
    left_s = clock.left_s(at)
    words = "until it is open too long" if clock.name == "open" else clock.words
    if left_s < 0:
        return Left(minutes=f"{int(-left_s // 60)} min over", words=clock.over_words, over=True)
    minutes = int(left_s // 60)
    if minutes >= 60:
        return Left(minutes=f"{minutes // 60} h {minutes % 60:02d} min", words=words, over=False)
    return Left(minutes=f"{minutes} min" if minutes else "under 1 min", words=words, over=False)
