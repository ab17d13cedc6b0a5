"""The record of a run, gathered from everything that was kept of it."""

from collections.abc import Sequence
from datetime import datetime

from plasmawright import __version__
from plasmawright.bench.entries import Kind, Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.moments import Moment, Steadied
from plasmawright.bench.steps import TITLES, Step
from plasmawright.documents.made import Printed
from plasmawright.documents.record import (
    LedgerHead,
    RecordEvent,
    RecordFact,
    RecordLot,
    RecordSignature,
    RecordVessel,
    RunRecord,
)
from plasmawright.documents.tube_drawing import SpunTube, spun_tube
from plasmawright.documents.wording import Interval, height
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import ChainHead, Meaning, Run, RunEntry, VesselKind
from plasmawright.records.selectors.lots import lots_of_run
from plasmawright.records.selectors.runs import entries, signature, stand, vessels
from plasmawright.web.bench_volumes import measured_mean
from plasmawright.web.kept_layers import layers_of
from plasmawright.web.paper_views import made_of
from plasmawright.web.run_entry_words import entry_words
from plasmawright.web.run_labels import HOLDS, filled_at
from plasmawright.web.run_record_intake import cautions_of, intake_facts
from plasmawright.web.run_record_parts import clock_facts, foresights_of, summary_facts
from plasmawright.web.run_record_steps import event_of, record_steps
from plasmawright.web.run_times import day_and_minute, second, zone_of

SETTING_SOLO = "Solo setting: one person read everything back twice. Not witnessed."
SETTING_TWO = "Two people: somebody other than the preparer releases."
DIFFERENT = frozenset({Kind.DIFFERS, Kind.OVERRIDDEN, Kind.RED_SEEN, Kind.RED_FATE, Kind.NOTE})
OF_MISHAPS = frozenset({Kind.MISHAP, Kind.CHOSEN})


def record_of(run: Run, *, at: datetime) -> RunRecord:
    """Return the record of a run as it stands ``at`` the time of printing."""
    kept, facts = entries(run), stand(run)
    answer = run.plan.answer
    stop = answer["chosen"]["stop"]
    printed = Printed(at=at, version=__version__)
    expected = Interval.of(stop["expected_interface_mm"])
    return RunRecord(
        code=run.code,
        clinic=run.clinic.name,
        identifiers=_identifiers(run),
        practice=run.practice,
        outcome=_outcome(run, facts),
        setting=_setting(run, facts),
        summary=summary_facts(run, facts),
        intake=() if run.intake is None else intake_facts(run.intake),
        cautions=() if run.intake is None else cautions_of(run.intake),
        steps=record_steps(run, kept),
        tube=_tube(run, expected),
        stop_words=f"stop {stop['above_cells_mm']:g} mm above the red you see",
        interface_words=f"red expected at {height(expected.p50)} mm",
        seen_mm=measured_mean(facts, Measure.INTERFACE_MM),
        foresights=foresights_of(run, kept),
        clocks=clock_facts(facts, closed_at=filled_at(run), at=at),
        deviations=_deviations(run, kept),
        mishaps=_events(run, kept, OF_MISHAPS),
        vessels=_vessels(run, kept),
        lots=_lots(run),
        signatures=_signatures(run),
        disposal=_disposal(run),
        head=_head(run),
        zone=zone_of(at),
        plan_words=f"The plan: {made_of(run.plan).words}",
        made_words=printed.words,
        made=printed,
    )


def _identifiers(run: Run) -> tuple[RecordFact, ...]:
    patient = run.patient
    if patient is None:
        return (RecordFact(name="patient", words="nobody: a practice run"),)
    return (
        RecordFact(name="name", words=patient.name),
        RecordFact(name="born", words=f"{patient.birth_on:%Y-%m-%d}"),
        RecordFact(name="record number", words=patient.record_number),
    )


def _outcome(run: Run, facts: RunFacts) -> str:
    if facts.ended_at is None:
        return f"Not ended: at the step “{TITLES[facts.step]}”"
    return f"{TITLES[facts.step]} {day_and_minute(facts.ended_at)}"


def _setting(run: Run, facts: RunFacts) -> str:
    words = SETTING_SOLO if run.solo else SETTING_TWO
    if facts.later:
        words += f" {facts.later} of {facts.position} entries were entered later, from paper."
    return words


def _tube(run: Run, expected: Interval) -> SpunTube:
    visit, answer = visit_from(run.plan.visit.document), run.plan.answer
    return spun_tube(
        visit.tubes[visit.bench.tube],
        layers_of(visit, answer),
        margin_mm=float(answer["chosen"]["stop"]["above_cells_mm"]),
        low_mm=expected.p05,
        high_mm=expected.p95,
    )


def _events(run: Run, kept: Sequence[RunEntry], kinds: frozenset[Kind]) -> tuple[RecordEvent, ...]:
    return tuple(event_of(run, one, kept) for one in kept if Kind(one.kind) in kinds)


def _deviations(run: Run, kept: Sequence[RunEntry]) -> tuple[RecordEvent, ...]:
    """Return what differed from the plan or from how a run goes, in the order in which it was entered."""
    found: list[RecordEvent] = []
    for one in kept:
        kind = Kind(one.kind)
        foreign = kind is Kind.SCANNED and not one.body.get("own", False)
        if kind in DIFFERENT or foreign or one.review:
            found.append(event_of(run, one, kept))
        elif kind is Kind.AMENDED:
            words = entry_words(kind, Step(one.step), one.body)
            found.append(RecordEvent(at=second(one.at, opened_at=run.opened_at), by=str(one.written_by), words=words))
        moment = Moment(at=one.at, boot_id=one.boot_id, boot_s=one.boot_s)
        if jumped := Steadied(moment=moment, jump_s=one.jump_s).told:
            found.append(RecordEvent(at=second(one.at, opened_at=run.opened_at), by="the machine", words=jumped))
    return tuple(found)


def _vessels(run: Run, kept: Sequence[RunEntry]) -> tuple[RecordVessel, ...]:
    scanned = {str(one.body["code"]): one for one in kept if one.kind == Kind.SCANNED.value}
    found = []
    for vessel in sorted(vessels(run), key=lambda one: (tuple(VesselKind).index(VesselKind(one.kind)), one.number)):
        volume = "" if vessel.volume_ml is None else f"{vessel.volume_ml:.1f} mL planned"
        holds = (vessel.product.upper() or HOLDS[VesselKind(vessel.kind)], volume, vessel.site)
        last = scanned.get(vessel.code)
        found.append(
            RecordVessel(
                code=vessel.code,
                vessel=str(vessel),
                holds=", ".join(part for part in holds if part),
                scanned="not scanned" if last is None else second(last.at, opened_at=run.opened_at),
            )
        )
    return tuple(found)


def _lots(run: Run) -> tuple[RecordLot, ...]:
    return tuple(
        RecordLot(
            supply=use.lot.supply.name,
            number=use.lot.number,
            expiry="does not expire" if use.lot.expires_on is None else f"{use.lot.expires_on:%Y-%m-%d}",
            quantity=str(use.quantity),
        )
        for use in lots_of_run(run)
    )


def _signatures(run: Run) -> tuple[RecordSignature, ...]:
    kept = signature(run)
    if kept is None:
        return ()
    return (
        RecordSignature(
            meaning=Meaning(kept.meaning).label,
            signer=str(kept.signer),
            at=day_and_minute(kept.signed_at),
            witnessed=kept.witnessed,
            words=f"Prepared by {kept.preparer}.",
        ),
    )


def _disposal(run: Run) -> tuple[RecordEvent, ...]:
    kept = signature(run)
    if kept is None or kept.meaning != Meaning.DISCARDED:
        return ()
    return (RecordEvent(at=day_and_minute(kept.signed_at), by=str(kept.signer), words=kept.words),)


def _head(run: Run) -> LedgerHead:
    kept = ChainHead.objects.of(run.clinic).get()
    return LedgerHead(seq=kept.seq, digest=kept.digest)
