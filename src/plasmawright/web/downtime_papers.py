"""The papers of a day on which the machine may be down, gathered from runs that are open and plans that wait."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from plasmawright import __version__
from plasmawright.documents.downtime import HOW_TO_GO_ON, DowntimePack, DowntimeRun
from plasmawright.documents.downtime_form import BlankForm, blank_form
from plasmawright.documents.labels import LabelSheet
from plasmawright.documents.made import Printed
from plasmawright.documents.rack_card import RackCards, rack_cards_of
from plasmawright.documents.render import Paper
from plasmawright.documents.worksheet import worksheet_of
from plasmawright.errors import Refusal
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic, Lot, Patient, Plan, Run
from plasmawright.records.selectors.lots import lots_in_use, lots_of_run
from plasmawright.records.selectors.patients import alerts_of, reference_of
from plasmawright.records.selectors.runs import runs_on
from plasmawright.records.selectors.settings import policy_of
from plasmawright.web.kept_layers import layers_of
from plasmawright.web.paper_views import made_of
from plasmawright.web.run_labels import identifiers_of, labels_of, labels_without_codes

PLANS_FROM_DAYS = 1
"""A plan saved yesterday is today's: clinics plan the evening before."""
NO_CODES = "Not opened yet: its labels carry no code. Compare both identifiers at every hand-over."
NO_PATIENT = "Planned without a patient: no labels. Write both identifiers by hand."


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """A plan that no run has been opened for, and its patient where the plan was made for one."""

    plan: Plan
    patient: Patient | None


def downtime_pack(clinic: Clinic, *, day: date, paper: Paper, at: datetime) -> DowntimePack:
    """Return the pack of a day: every run that is open, then every plan that waits."""
    runs = [run for run in runs_on(clinic, day) if run.ended_at is None]
    shelf = _lot_words(lots_in_use(clinic, day))
    opened = [_of_run(run, paper=paper, at=at) for run in runs]
    waiting = [_of_plan(one, lots=shelf, paper=paper, at=at) for one in plans_waiting(clinic, day)]
    printed = Printed(at=at, version=__version__)
    return DowntimePack(
        clinic=clinic.name,
        day=f"{day:%Y-%m-%d}",
        how=HOW_TO_GO_ON,
        runs=tuple(opened + waiting),
        spare=blank_form(shelf),
        made_words=printed.words,
        made=printed,
    )


def plans_waiting(clinic: Clinic, day: date) -> list[Waiting]:
    """Return the newest plan of each visit saved on the day or the day before that no run was opened for."""
    since = day - timedelta(days=PLANS_FROM_DAYS)
    saved = Plan.objects.of(clinic).filter(saved_at__date__range=(since, day)).select_related("visit", "clinic")
    begun = set(Run.objects.of(clinic).filter(practice=False).values_list("plan__visit__reference", "opened_at__date"))
    known = {reference_of(one): one for one in Patient.objects.of(clinic).order_by("pk")}
    newest: dict[str, Plan] = {}
    for plan in saved.order_by("saved_at", "pk"):
        newest[plan.visit.reference or f"plan {plan.pk}"] = plan
    begun_on_the_day = {reference for reference, on in begun if since <= on <= day}
    return [
        Waiting(plan=plan, patient=known.get(reference))
        for reference, plan in newest.items()
        if reference not in begun_on_the_day
    ]


def _of_run(run: Run, *, paper: Paper, at: datetime) -> DowntimeRun:
    patient = run.patient
    identifiers = () if patient is None else identifiers_of(patient, run.policy_document["label_identifiers"])
    lots = _lot_words([use.lot for use in lots_of_run(run)])
    return _papers(
        run.plan,
        title=f"run {run.code}",
        identifiers=identifiers,
        labels=labels_of(run, paper=paper, first=1, at=at),
        form=blank_form(lots),
        alerted=patient is not None and bool(alerts_of(patient)),
        missing=(),
    )


def _of_plan(waiting: Waiting, *, lots: tuple[str, ...], paper: Paper, at: datetime) -> DowntimeRun:
    plan, patient = waiting.plan, waiting.patient
    if patient is None:
        title = plan.visit.reference or f"plan {plan.pk}"
        return _papers(
            plan, title=title, identifiers=(), labels=None, form=blank_form(lots), alerted=False, missing=(NO_PATIENT,)
        )
    identifiers = identifiers_of(patient, policy_of(plan.clinic).label_identifiers)
    alerted = bool(alerts_of(patient))
    return _papers(
        plan,
        title=plan.visit.reference,
        identifiers=identifiers,
        labels=labels_without_codes(plan, identifiers=identifiers, alerted=alerted, paper=paper, at=at),
        form=blank_form(lots),
        alerted=alerted,
        missing=(NO_CODES,),
    )


def _papers(
    plan: Plan,
    *,
    title: str,
    identifiers: tuple[str, ...],
    labels: LabelSheet | None,
    form: BlankForm,
    alerted: bool,
    missing: tuple[str, ...],
) -> DowntimeRun:
    visit, answer, made = visit_from(plan.visit.document), plan.answer, made_of(plan)
    cards: RackCards | None = None
    try:
        cards = rack_cards_of(visit, answer, made=made)
    except Refusal as refused:  # a tube that no paper shows at true size has no card, and the rest still prints
        missing = (*missing, f"No rack card: {refused}")
    return DowntimeRun(
        title=title,
        identifiers=identifiers,
        worksheet=worksheet_of(visit, answer, layers=layers_of(visit, answer), made=made),
        rack_cards=cards,
        labels=labels,
        form=form,
        name_alert=alerted,
        missing=missing,
    )


def _lot_words(lots: list[Lot]) -> tuple[str, ...]:
    return tuple(
        f"{lot.supply.name}, lot {lot.number}, "
        + ("does not expire" if lot.expires_on is None else f"expires {lot.expires_on:%Y-%m-%d}")
        for lot in lots
    )
